package drying_test

import (
	"reflect"
	"testing"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// The zero study is the projection, and each spread that is doubled makes the
// band of the day wider: doubt that is added is doubt that is told.
func TestStudy(t *testing.T) {
	t.Parallel()
	hung := time.Date(2026, time.March, 2, 8, 0, 0, 0, time.UTC)
	o := drying.Order{
		Green: quantity.MustGrams(820), Stuffed: hung, Target: quantity.MustLossPercent(33),
		Diameter: material.Is(quantity.MustMillimetres(55)), Temperature: material.Is(quantity.MustCelsius(13)),
		Humidity: material.Is(quantity.MustHumidityPercent(76)),
		WeighIns: []drying.WeighIn{{At: hung.Add(7 * 24 * time.Hour), Weight: quantity.MustGrams(720)}, {At: hung.Add(12 * 24 * time.Hour), Weight: quantity.MustGrams(683)}},
	}
	as, err := drying.Project(o)
	if err != nil {
		t.Fatal(err)
	}
	same, err := drying.Study{Misfit: quantity.MustRatio(1)}.Project(o)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(as, same) {
		t.Error("want the projection as it is where nothing is widened")
	}
	width := func(p drying.Projection) time.Duration { return p.Day.P50.High - p.Day.P50.Low }
	twice := quantity.MustRatio(2)
	for name, s := range map[string]drying.Study{
		"misfit": {Misfit: twice}, "rate": {Rate: twice}, "surface": {Surface: twice}, "stops": {Stops: twice},
	} {
		p, err := s.Project(o)
		if err != nil {
			t.Fatal(err)
		}
		if width(p) <= width(as) {
			t.Errorf("%s twice as wide: want a wider band than %v, got %v", name, width(as), width(p))
		}
	}
}
