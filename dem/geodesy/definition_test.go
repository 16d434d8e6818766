package geodesy

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDefinitionsNameNoFile: 2026-11-30, PROJ opens whatever file a
// definition names as a datum grid.
func TestDefinitionsNameNoFile(t *testing.T) {
	t.Parallel()
	for _, definition := range []string{
		"http://127.0.0.1:1/crs", "file:///etc/passwd", "a:/etc/passwd", "http://www.opengis.net/def/crs/../../etc?x",
		"+proj=longlat +ellps=clrk66 +nadgrids=/etc/passwd +type=crs", "+proj=longlat +ellps=clrk66 +nadgrids=conus,../x +type=crs",
		"+proj=longlat +ellps=WGS84 +geoidgrids=https://127.0.0.1/g.tif +type=crs", "+init=/etc/passwd:1", "init=./here:1",
		`GEOGCS["x",DATUM["d",SPHEROID["s",6378206.4,294.98],EXTENSION["PROJ4_GRIDS","/etc/passwd"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]`,
		`BOUNDCRS[SOURCECRS[GEOGCRS["x"]],TARGETCRS[GEOGCRS["y"]],ABRIDGEDTRANSFORMATION["z",METHOD["NTv2"],PARAMETERFILE["Latitude and longitude difference file","/etc/passwd"]]]`,
		`{"type":"BoundCRS","transformation":{"parameters":[{"name":"Latitude and longitude difference file","value":"/etc/passwd"}]}}`,
	} {
		_, err := NewCRS(definition)
		require.Error(t, err, definition)
		assert.Regexp(t, "names a file|is an address or a file's name", err.Error(), definition)
	}
	for _, definition := range []string{
		"EPSG:32617", "urn:ogc:def:crs:EPSG::32617", "EPSG:4326+5773", "http://www.opengis.net/def/crs/EPSG/0/32617",
		"+proj=utm +zone=17 +datum=WGS84 +type=crs", "+proj=merc +a=6378137 +b=6378137 +nadgrids=@null +type=crs",
		`PROJCS["WGS 84 / UTM zone 17N",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["central_meridian",-81],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],UNIT["metre",1],EXTENSION["PROJ4","+proj=utm +zone=17 +nadgrids=@null"]]`,
	} {
		_, err := NewCRS(definition)
		assert.NoError(t, err, definition)
	}
}
