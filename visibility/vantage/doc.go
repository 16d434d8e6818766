// Package vantage finds where to stand: of all posts round a place, those from
// which marks are seen.
//
// # Model
//
// A sight runs both ways. So each mark looks at the area, with the heights of eye
// and target exchanged, and what it sees is who sees it: one exact viewshed a
// mark, in place of one a post. visibility.ViewOf has how the two ends of a sight
// are made to agree; Seen.Verdict is, at every post, the verdict of the sight from
// there.
//
// No post is left out: Franklin and Vogt sited observers on ground of half the
// posts each way, and they saw markedly less on the whole ground than those sited
// on it. Nor is a standpoint the better only for seeing more: Franklin found it
// more important that observers be well spaced than that they be the most visible
// ones, which crowd together. The like holds of what one observer sees: ten marks
// close together teach less, and fix a place worse, than five all round. So the
// worth of a standpoint counts bearings by how they cross, and the standpoints told
// stand apart. What was not taken over is his estimate of how much a post sees by
// 20 to 30 sights at random: with marks to look from, every post is asked.
//
// # Worth
//
// For a class, a post is scored by the marks it sees that are fixed to the ground.
// Worth has the formula. In it is the information bound of a fix: for independent
// normal bearings no unbiased fix has a smaller covariance than the inverse of the
// sum of n n'/(σ²d² + e²), n the unit vector square to the sight, d the distance, σ
// the error of a bearing in radians and e that of the mark (Cramér and Rao; for
// bearings D. J. Torrieri, IEEE Transactions on Aerospace and Electronic Systems
// 20, 1984; from memory). It is what a fix by all the marks would be good to, and
// what package fix reckons for any few of them. The weights are judgement, not
// measurement: they put the posts in an order, and what is told of each is worked
// out anew.
//
// Bearings and distances are taken on the plane of the area's centre, straight:
// marks 20 km off are out by a part in 100 000.
//
// # Ground to stand on
//
// Standing tells where a group can stand: on ground no steeper than a slope over a
// width, all of it known, and with no cliff nearer than the group may stray on the
// way. It knows what the data knows: not boulders, bogs, trees, loose edges, nor
// cliffs narrower than the spacing of posts. Ground must be walked by the leader
// first.
//
// # Cost
//
// 100 summits over 110 000 posts of 30 m (10 x 10 km), each as far as it counts: 1.2
// seconds of one core of a 2020s server for the sights, 1.9 where all count to 15 km;
// less than a tenth for the rest.
// Memory: two bits a post and mark, 30 bytes a post of the area, and two bytes a
// post between a mark and the area on each core.
//
// # References
//
//   - W. R. Franklin, Siting observers on terrain, Advances in Spatial Data
//     Handling (10th International Symposium), Springer 2002, pp. 109-120 (by its
//     abstract).
//   - W. R. Franklin and C. Vogt, Multiple observer siting on terrain with
//     intervisibility or lo-res data, XXth ISPRS Congress, Istanbul 2004 (by its
//     abstract).
package vantage
