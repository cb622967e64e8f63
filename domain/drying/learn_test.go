package drying_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// finished is a piece of 55 mm at 13 °C and 78 percent that dried so many times as
// fast as a cylinder of D/R² 0.0069 a day and a Biot number of 3 that stops at 44
// percent, which is the middle of what is expected of it.
func finished(t *testing.T, times float64) drying.Order {
	t.Helper()
	c, err := drying.NewCylinder(quantity.MustRatio(3))
	if err != nil {
		t.Fatal(err)
	}
	var at, losses []float64
	for day := 3.0; day <= 60; day += 4 {
		left, err := c.MeanMoistureRatio(quantity.MustRatio(0.0069 * times * day))
		if err != nil {
			t.Fatal(err)
		}
		at, losses = append(at, day), append(losses, 44*(1-left.Float()))
	}
	return room(order(35, at, losses), 78)
}

func learn(t *testing.T, lots ...drying.Earlier) drying.Learned {
	t.Helper()
	l, err := drying.Learn(lots)
	if err != nil {
		t.Fatalf("learn: %v", err)
	}
	return l
}

func lots(t *testing.T, n int, times float64) []drying.Earlier {
	t.Helper()
	var all []drying.Earlier
	for i := range n {
		all = append(all, drying.Earlier{Lot: fmt.Sprint(i), Order: finished(t, times)})
	}
	return all
}

// The more lots dried twice as fast, the more the day before any weigh-in moves
// towards half of what it was and the narrower its band, but never as narrow as
// if lots did not differ: a factor of e^(1.28 · 0.25) = 1.38 to either side is left
// of the rate alone.
func TestLearnFromFasterLots(t *testing.T) {
	t.Parallel()
	as := project(t, piece())
	spread := func(p drying.Projection) float64 { return math.Log(days(p.Day.P80.High) / days(p.Day.P80.Low)) }
	before, wide := days(as.Day.Median), spread(as)
	for _, n := range []int{1, 3, 8} {
		o := piece()
		o.Learned = learn(t, lots(t, n, 2)...)
		p := project(t, o)
		if o.Learned.Lots() != n || !hasNote(p, "learned") {
			t.Fatalf("want it learned from %d lots and said, got %d, %v", n, o.Learned.Lots(), codes(p))
		}
		if got := days(p.Day.Median); got >= before {
			t.Errorf("%d lots: want it before day %v, got %v", n, before, got)
		}
		if got := spread(p); got >= wide || got < 2*1.28*0.25 {
			t.Errorf("%d lots: want a band narrower than %v and no narrower than lots differ, got %v", n, wide, got)
		}
		before, wide = days(p.Day.Median), spread(p)
	}
	quantitytest.Near(t, "with many lots, half of the days", days(as.Day.Median)/2, before, 0.2*days(as.Day.Median)/2)
}

// Lots as expected move nothing and narrow the band; slower ones move the day
// later.
func TestLearnFromOtherLots(t *testing.T) {
	t.Parallel()
	as := project(t, piece())
	o := piece()
	o.Learned = learn(t, lots(t, 4, 1)...)
	same := project(t, o)
	quantitytest.Near(t, "as expected", days(as.Day.Median), days(same.Day.Median), 0.15*days(as.Day.Median))
	if same.Day.P80.High >= as.Day.P80.High || same.Day.P80.Low <= as.Day.P80.Low {
		t.Errorf("want a band within %v, got %v", as.Day.P80, same.Day.P80)
	}
	o.Learned = learn(t, lots(t, 4, 0.5)...)
	if slow := project(t, o); slow.Day.Median < same.Day.Median*3/2 {
		t.Errorf("want slower lots to move the day well past %v, got %v", days(same.Day.Median), days(slow.Day.Median))
	}
}

// Lots that lie far apart tell less than those that agree; pieces of one lot tell
// less than as many lots; a piece that was not weighed tells nothing.
func TestLearnNoMoreThanThereIs(t *testing.T) {
	t.Parallel()
	width := func(l drying.Learned) float64 {
		o := piece()
		o.Learned = l
		p := project(t, o)
		return math.Log(days(p.Day.P80.High) / days(p.Day.P80.Low))
	}
	agree := width(learn(t, lots(t, 4, 1)...))
	apart := width(learn(t, append(lots(t, 2, 0.4), drying.Earlier{Order: finished(t, 2.5)}, drying.Earlier{Order: finished(t, 2.5)})...))
	if apart <= agree {
		t.Errorf("want a wider band of lots that lie apart than %v, got %v", agree, apart)
	}
	one := lots(t, 4, 1)
	for i := range one {
		one[i].Lot = "the same"
	}
	if l := learn(t, one...); l.Lots() != 1 || width(l) <= agree {
		t.Errorf("want four pieces of one lot to tell less than four lots, got %v and %v of %d", width(l), agree, l.Lots())
	}
	none := learn(t, drying.Earlier{Order: piece()})
	if diff := math.Abs(width(none) - width(drying.Learned{})); none.Lots() != 0 || diff > 0 {
		t.Errorf("want nothing learned from what was not weighed, got %d lots", none.Lots())
	}
}

func TestLearnFaults(t *testing.T) {
	t.Parallel()
	bad := piece(6)
	bad.Green = quantity.Mass{}
	_, err := drying.Learn([]drying.Earlier{{Order: piece(6)}, {Order: bad}})
	if diff := cmp.Diff(map[string]string{"#/earlier/1/green_weight": "minimum"}, membersAtFault(t, err)); diff != "" {
		t.Errorf("a piece of nothing (-want +got):\n%s", diff)
	}
	_, err = drying.Learn(make([]drying.Earlier, 61))
	if diff := cmp.Diff(map[string]string{"#/earlier": "out-of-range"}, membersAtFault(t, err)); diff != "" {
		t.Errorf("too many (-want +got):\n%s", diff)
	}
}
