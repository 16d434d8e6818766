#include "writer.h"

static OGRErr add(OGRLayerH layer, OGRFeatureDefnH definition, const gdalio_lines *l, int many, int line, long at) {
	OGRFeatureH feature = OGR_F_Create(definition);
	if (!feature) return OGRERR_NOT_ENOUGH_MEMORY;
	for (int i = 0; i < l->fields; i++) {
		long v = (long)line * l->fields + i;
		if (l->index[i] < 0 || l->offsets[v] < 0) continue;
		switch (l->type[i]) {
		case 0:
			OGR_F_SetFieldString(feature, l->index[i], l->text + l->offsets[v]);
			break;
		case 1:
			OGR_F_SetFieldInteger64(feature, l->index[i], (GIntBig)l->numbers[v]);
			break;
		case 3:
			OGR_F_SetStyleString(feature, l->text + l->offsets[v]);
			break;
		default:
			OGR_F_SetFieldDouble(feature, l->index[i], l->numbers[v]);
		}
	}
	OGRGeometryH g = OGR_G_CreateGeometry(l->z ? wkbLineString25D : wkbLineString);
	const int s = sizeof(double);
	OGR_G_SetPoints(g, l->points[line], l->x + at, s, l->y + at, s, l->z ? l->z + at : NULL, l->z ? s : 0);
	if (many) {
		OGRGeometryH all = OGR_G_CreateGeometry(l->z ? wkbMultiLineString25D : wkbMultiLineString);
		OGR_G_AddGeometryDirectly(all, g);
		g = all;
	}
	OGRErr e = OGR_F_SetGeometryDirectly(feature, g);
	if (e == OGRERR_NONE) e = OGR_L_CreateFeature(layer, feature);
	OGR_F_Destroy(feature);
	return e;
}

int gdalio_add_lines(OGRLayerH layer, const gdalio_lines *lines, int many) {
	OGRFeatureDefnH definition = OGR_L_GetLayerDefn(layer);
	long at = 0;
	for (int i = 0; i < lines->count; i++) {
		if (add(layer, definition, lines, many, i, at) != OGRERR_NONE) return i;
		at += lines->points[i];
	}
	return lines->count;
}
