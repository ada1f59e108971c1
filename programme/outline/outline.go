// Package outline reads the boundary of an area from GeoJSON.
package outline

import (
	"bytes"
	"encoding/json"
	"math"
)

// Bounds of what is read: a coarse outline stays far below them.
const (
	MostBytes     = 1 << 20
	MostPositions = 20_000
	MostParts     = 500
)

// Ring is the edge of one part of an area: longitude and latitude in degrees (WGS 84),
// one pair after the other, the first pair not repeated at the end. It has three corners
// or more.
type Ring []float64

// Reason is why a text gives no outline. The zero value is none.
type Reason int

// The reasons.
const (
	NotGeoJSON Reason = iota + 1 // no JSON, or not laid out as GeoJSON
	NoSurface                    // points or lines alone
	TooLarge                     // beyond MostBytes, MostPositions or MostParts
	OffEarth                     // a longitude beyond ±180 or a latitude beyond ±90
	NotClosed                    // a ring that does not end where it begins, or has too few corners
)

// String is the word of the reason, as it stands in findings.
func (r Reason) String() string {
	return [...]string{"", "geojson", "surface", "outline_size", "on_earth", "closed_ring"}[r]
}

// Error is the reason in a few words.
func (r Reason) Error() string {
	return [...]string{"no reason", "not GeoJSON", "no surface", "too large", "not on Earth", "a ring that is not closed"}[r]
}

// object is any object of GeoJSON; which fields it has depends on its type.
type object struct {
	Type        string            `json:"type"`
	Coordinates json.RawMessage   `json:"coordinates"`
	Geometry    *object           `json:"geometry"`
	Geometries  []json.RawMessage `json:"geometries"`
	Features    []json.RawMessage `json:"features"`
}

// Read gives the outer rings of all polygons in a GeoJSON text: a Polygon or
// MultiPolygon, by itself, in a Feature, or in a collection. Holes are checked and left
// out, heights are passed over, and what is neither is passed over too. An area that
// crosses 180° stands as longitudes of both signs, whether or not it was cut there.
//
// The error is a Reason. RFC 7946, sections 3 and 4.
func Read(text string) ([]Ring, error) {
	if len(text) > MostBytes {
		return nil, TooLarge
	}
	r := reader{}
	if reason := r.object([]byte(text), 0); reason != 0 {
		return nil, reason
	}
	if len(r.rings) == 0 {
		return nil, NoSurface
	}
	return r.rings, nil
}

// reader collects rings; positions counts those of holes too.
type reader struct {
	rings     []Ring
	positions int
}

// deepest is how far collections may stand within each other.
const deepest = 8

func (r *reader) object(text []byte, depth int) Reason {
	var o object
	if depth > deepest || json.Unmarshal(text, &o) != nil {
		return NotGeoJSON
	}
	return r.of(&o, depth)
}

func (r *reader) of(o *object, depth int) Reason {
	switch o.Type {
	case "Polygon":
		var part [][][]float64
		if !numbers(o.Coordinates, &part) {
			return NotGeoJSON
		}
		return r.part(part)
	case "MultiPolygon":
		var parts [][][][]float64
		if !numbers(o.Coordinates, &parts) {
			return NotGeoJSON
		}
		for _, part := range parts {
			if reason := r.part(part); reason != 0 {
				return reason
			}
		}
	case "Feature":
		if o.Geometry != nil && depth <= deepest {
			return r.of(o.Geometry, depth+1)
		}
	case "FeatureCollection":
		return r.each(o.Features, depth)
	case "GeometryCollection":
		return r.each(o.Geometries, depth)
	case "Point", "MultiPoint", "LineString", "MultiLineString":
	default:
		return NotGeoJSON
	}
	return 0
}

func (r *reader) each(objects []json.RawMessage, depth int) Reason {
	for _, text := range objects {
		if reason := r.object(text, depth+1); reason != 0 {
			return reason
		}
	}
	return 0
}

// numbers reads nested arrays in which no number is missing.
func numbers(text json.RawMessage, into any) bool {
	return len(text) > 0 && !bytes.Contains(text, []byte("null")) && json.Unmarshal(text, into) == nil
}

// part reads a polygon: its outer ring, and its holes.
func (r *reader) part(rings [][][]float64) Reason {
	for i, positions := range rings {
		ring, reason := r.ring(positions)
		if reason != 0 {
			return reason
		}
		if i == 0 {
			if r.rings = append(r.rings, ring); len(r.rings) > MostParts {
				return TooLarge
			}
		}
	}
	return 0
}

func (r *reader) ring(positions [][]float64) (Ring, Reason) {
	if r.positions += len(positions); r.positions > MostPositions {
		return nil, TooLarge
	}
	var ring Ring
	for _, p := range positions {
		if len(p) < 2 {
			return nil, NotGeoJSON
		}
		if math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 {
			return nil, OffEarth
		}
		ring = append(ring, p[0], p[1])
	}
	n := len(ring)
	if n < 8 || ring[0] != ring[n-2] || ring[1] != ring[n-1] {
		return nil, NotClosed
	}
	return ring[:n-2], 0
}
