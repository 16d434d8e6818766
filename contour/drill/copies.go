package drill

import (
	"context"
	"errors"
	"fmt"

	"crowline/contour/page"
)

// MostCopies is how many copies a class can have: a letter each.
const MostCopies = 26

// Copies are sheets for a class on the same ground as the set, which becomes copy
// A: other questions on each, so that neighbours do not share answers. Copy B is
// what Make gives for the next seed, and so on; each is made again by its own. A
// set that was not made by Make has none.
func (s *Set) Copies(ctx context.Context, n int) ([]*Set, error) {
	if s.survey == nil {
		return nil, errors.New("drill: this set has no ground to draw up copies on; make it again with Make")
	}
	if n < 1 || n > MostCopies {
		return nil, fmt.Errorf("drill: %d copies: ask for 1 to %d", n, MostCopies)
	}
	out := []*Set{s}
	for i := 1; i < n; i++ {
		set, err := s.survey.again(s.survey.o.Seed + uint64(i)).set(ctx)
		if err != nil {
			return nil, fmt.Errorf("copy %s: %w", letter(i), err)
		}
		out = append(out, set)
	}
	for i, set := range out {
		set.Copy = letter(i)
	}
	return out, nil
}

func letter(i int) string { return string(rune('A' + i)) }

// again is the survey before anything was asked, with another seed.
func (s *survey) again(seed uint64) *survey {
	out := *s
	out.o.Seed = seed
	out.asked, out.outlined, out.texts, out.maps, out.in = nil, nil, map[string]bool{}, nil, nil
	out.looked, out.counted = 0, false
	return &out
}

// heading is the title with the copy's letter, which sheet and key are matched by.
func (s *Set) heading() string {
	if s.Copy == "" {
		return s.Title
	}
	return "Copy " + s.Copy + ". " + s.Title
}

// Class lays out the copies of a class in one document: first all the sheets, then
// all the keys, each with its letter and pages counted by themselves.
func Class(ctx context.Context, copies []*Set, o PageOptions) (*page.Document, error) {
	if len(copies) == 0 {
		return nil, errors.New("drill: no copies to draw")
	}
	var out *page.Document
	for _, part := range []Part{QuestionsOnly, KeyOnly} {
		if o.Part != Both && o.Part != part {
			continue
		}
		for _, set := range copies {
			one := o
			one.Part = part
			doc, err := set.Document(ctx, one)
			if err != nil {
				return nil, err
			}
			if out == nil {
				out = &page.Document{Title: set.Title, Subject: fmt.Sprintf("%s, %d copies", doc.Subject, len(copies)), Created: doc.Created}
			}
			out.Pages, out.Warnings = append(out.Pages, doc.Pages...), append(out.Warnings, doc.Warnings...)
		}
	}
	return out, nil
}
