package grib

// gridName names a grid definition template, code table 3.1.
func gridName(template uint16) string {
	switch template {
	case 0:
		return "latitude-longitude"
	case 1:
		return "rotated latitude-longitude"
	case 2, 3:
		return "stretched latitude-longitude"
	case 4, 5:
		return "latitude-longitude of variable resolution"
	case 10, 13:
		return "Mercator"
	case 12:
		return "transverse Mercator"
	case 20, 23:
		return "polar stereographic"
	case 30, 33:
		return "Lambert conformal"
	case 31:
		return "Albers equal-area"
	case 40:
		return "Gaussian"
	case 41:
		return "rotated Gaussian"
	case 42, 43:
		return "stretched Gaussian"
	case 50, 51, 52, 53:
		return "spherical harmonics"
	case 61, 62, 63:
		return "spectral, on a plane"
	case 90:
		return "space view"
	case 100:
		return "icosahedral"
	case 101:
		return "unstructured"
	case 110:
		return "azimuthal equidistant"
	case 120:
		return "azimuth and range"
	case 140:
		return "Lambert azimuthal equal-area"
	case 1000:
		return "vertical cross-section"
	case 1100:
		return "Hovmöller diagram"
	case 1200:
		return "time section"
	}
	return ""
}

// productName is what a product definition template is for, code table 4.0.
func productName(template uint16) string {
	switch template {
	case 2:
		return "derived from an ensemble"
	case 3, 4:
		return "cluster of an ensemble"
	case 5, 9:
		return "probability"
	case 6, 10:
		return "percentile"
	case 7:
		return "error of an analysis"
	case 12:
		return "derived from an ensemble over an interval"
	case 13, 14:
		return "cluster of an ensemble over an interval"
	case 15:
		return "average over an area"
	case 20:
		return "radar"
	case 30, 31, 35:
		return "satellite"
	case 32, 33, 34:
		return "simulated satellite"
	case 40, 41, 42, 43, 57, 58, 67, 68:
		return "chemical constituent"
	case 44, 45, 46, 47, 48, 49:
		return "aerosol"
	case 51, 91:
		return "categories"
	case 53, 54:
		return "partitioned parameter"
	case 55, 56, 59, 62, 63:
		return "changing tiles"
	case 60, 61:
		return "ensemble member of a reforecast"
	case 70, 71, 72, 73:
		return "post-processed"
	case 86, 87:
		return "quantile"
	case 88, 92, 93, 94, 95, 96, 97, 98:
		return "local time"
	case 254:
		return "text"
	case 1000, 1001, 1002:
		return "vertical cross-section"
	case 1100, 1101:
		return "Hovmöller diagram"
	}
	return ""
}
