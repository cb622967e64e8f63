package drying_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func rack(orders ...drying.Order) drying.Rack {
	var r drying.Rack
	for _, o := range orders {
		r.Pieces = append(r.Pieces, drying.RackPiece{Order: o})
	}
	return r
}

func projectRack(tb testing.TB, r drying.Rack) drying.RackProjection {
	tb.Helper()
	p, err := drying.ProjectRack(r)
	if err != nil {
		tb.Fatalf("project the rack: %v", err)
	}
	return p
}

func piece(losses ...float64) drying.Order {
	return room(order(35, []float64{3, 7, 12, 18}[:len(losses)], losses), 78)
}

// A rack of one is the piece: the same model by another integration.
func TestARackOfOneIsTheProjection(t *testing.T) {
	t.Parallel()
	for _, o := range []drying.Order{piece(6, 12, 17, 21.5), piece(5), piece()} {
		want := project(t, o)
		got := projectRack(t, rack(o))
		for _, day := range []struct {
			name      string
			want, got drying.Day
		}{{"piece", want.Day, got.Pieces[0].Day}, {"last", want.Day, got.Last}, {"enough", want.Day, got.Enough}} {
			what := fmt.Sprintf("%d weigh-ins, %s, ", len(o.WeighIns), day.name)
			quantitytest.Near(t, what+"median", days(day.want.Median), days(day.got.Median), 0.05*days(day.want.Median))
			quantitytest.Near(t, what+"early", days(day.want.P80.Low), days(day.got.P80.Low), 0.08*days(day.want.P80.Low))
			quantitytest.Near(t, what+"late", days(day.want.P80.High), days(day.got.P80.High), 0.15*days(day.want.P80.High))
		}
	}
}

// Pieces in another order are the same pieces.
func TestTheOrderOfPiecesDoesNotMatter(t *testing.T) {
	t.Parallel()
	a, b, c := piece(6, 12, 17, 21.5), piece(5, 10.5, 15, 19), piece(7, 13.5)
	one, other := projectRack(t, rack(a, b, c)), projectRack(t, rack(c, a, b))
	for i, k := range []int{1, 2, 0} {
		sameAnswer(t, fmt.Sprintf("piece %d", i), one.Pieces[i], other.Pieces[k], 1e-3)
	}
	quantitytest.Near(t, "last", days(one.Last.Median), days(other.Last.Median), 1e-3*days(one.Last.Median))
}

// A piece more never makes the last earlier, and the last is done after any other
// and after the one in the middle.
func TestMorePiecesAreDoneLater(t *testing.T) {
	t.Parallel()
	var orders []drying.Order
	before := 0.0
	for n := range 8 {
		orders = append(orders, piece(6+0.1*float64(n%3), 12, 17, 21.5))
		r := rack(orders...)
		r.Share = quantity.MustPercent(50)
		p := projectRack(t, r)
		if last := days(p.Last.Median); last < before-0.02 {
			t.Errorf("%d pieces are done on day %v, one less on %v", n+1, last, before)
		} else {
			before = last
		}
		if p.Enough.Median > p.Last.Median || p.Needed != (n+2)/2 || p.Of != n+1 {
			t.Errorf("%d pieces: half of them, %d, on day %v and all on %v", p.Of, p.Needed, days(p.Enough.Median), days(p.Last.Median))
		}
		for i, one := range p.Pieces {
			if one.Day.Median > p.Last.Median+1e9*60 {
				t.Errorf("piece %d is done on %v, after the last on %v", i, days(one.Day.Median), days(p.Last.Median))
			}
		}
	}
}

// A piece that nobody weighed borrows from those that were: they dry twice as fast
// as was thought, so that its day moves towards theirs and its band narrows.
func TestAPieceBorrowsFromTheOthers(t *testing.T) {
	t.Parallel()
	alone := project(t, piece())
	fast := []float64{10, 18, 25, 30}
	p := projectRack(t, rack(piece(fast...), piece(fast...), piece()))
	theirs, its := p.Pieces[0].Day, p.Pieces[2].Day
	if days(its.Median) > 0.7*days(alone.Day.Median) || its.P80.High-its.P80.Low > (alone.Day.P80.High-alone.Day.P80.Low)/2 {
		t.Errorf("alone %v in %v, with the others %v in %v", days(alone.Day.Median), alone.Day.P80, days(its.Median), its.P80)
	}
	if its.P80.High-its.P80.Low < theirs.P80.High-theirs.P80.Low {
		t.Errorf("want it less sure than those that were weighed, %v and %v", its.P80, theirs.P80)
	}
	if p.Pieces[2].Fitted || !hasNote(p.Pieces[2], "before-any-weigh-in") {
		t.Error("want it told that this piece itself was not weighed")
	}
}

// Six pieces weighed as one are done later than the mean of them, and about when
// six weighed apart are.
func TestPiecesWeighedAsOne(t *testing.T) {
	t.Parallel()
	o := piece(6, 12, 17, 21.5)
	mean := projectRack(t, rack(o))
	six := projectRack(t, drying.Rack{Pieces: []drying.RackPiece{{Order: o, Count: 6}}})
	apart := projectRack(t, rack(o, o, o, o, o, o))
	if six.Of != 6 || six.Last.Median <= mean.Last.Median {
		t.Errorf("want the last of %d later than the mean on day %v, got %v", six.Of, days(mean.Last.Median), days(six.Last.Median))
	}
	if six.Last.Median < apart.Last.Median {
		t.Errorf("want the last of six that nobody weighed alone no earlier than that of six as the mean, %v, got %v",
			days(apart.Last.Median), days(six.Last.Median))
	}
}

// Racks of five drawn from the model of this package's comment (a cylinder with
// a shared end and rate, pieces spread about them, weighing errors): the bands of
// the day of the last piece hold as often as a binomial has in 999 of 1,000 racks.
// Departures are left out, so that they hold somewhat more often than they claim.
func TestBandsOfTheLastPiece(t *testing.T) {
	t.Parallel()
	const racks, pieces = 16, 4
	from := rand.New(rand.NewChaCha8([32]byte{3})) //nolint:gosec // draws of a test are to be the same each time
	held, below := 0, 0
	for range racks {
		lotRate, stops := math.Log(0.0069)+0.4*from.NormFloat64(), 44+2*from.NormFloat64()
		c, err := drying.NewCylinder(quantity.MustRatio(3))
		if err != nil {
			t.Fatal(err)
		}
		truth := 0.0
		var orders []drying.Order
		for range pieces {
			rate, end := math.Exp(lotRate+0.18*from.NormFloat64()), stops+from.NormFloat64()
			lost := func(day float64) float64 {
				left, err := c.MeanMoistureRatio(quantity.MustRatio(rate * day))
				if err != nil {
					t.Fatal(err)
				}
				return end * (1 - left.Float())
			}
			var at, losses []float64
			for _, day := range []float64{3, 6, 10} {
				at, losses = append(at, day), append(losses, math.Max(lost(day)+0.4*from.NormFloat64(), 0))
			}
			day := 10.0
			for lost(day) < 33 && day < 2000 {
				day *= 1.01
			}
			truth = math.Max(truth, day)
			orders = append(orders, room(order(33, at, losses), 78))
		}
		p := projectRack(t, rack(orders...))
		if truth >= days(p.Last.P80.Low) && truth <= days(p.Last.P80.High) {
			held++
		}
		if truth < days(p.Last.Median) {
			below++
		}
	}
	t.Log("of", racks, "held", held, "below the median", below)
	if least := racks*0.8 - 3.3*math.Sqrt(racks*0.8*0.2); float64(held) < least {
		t.Errorf("want at least %v of %d bands to hold, got %d", least, racks, held)
	}
	if off := math.Abs(float64(below) - racks/2); off > 3.3*math.Sqrt(racks)/2 {
		t.Errorf("want the last day before the median in about half of %d racks, got %d", racks, below)
	}
}

func TestRacksAtFault(t *testing.T) {
	t.Parallel()
	_, err := drying.ProjectRack(drying.Rack{})
	if diff := cmp.Diff(map[string]string{"#/pieces": "out-of-range"}, membersAtFault(t, err)); diff != "" {
		t.Errorf("no pieces (-want +got):\n%s", diff)
	}
	late := piece(6, 12)
	late.AsOf = on(4)
	early := piece(6)
	early.AsOf = on(4)
	_, err = drying.ProjectRack(rack(early, late, late))
	if diff := cmp.Diff(map[string]string{"#/as_of_at": "before-the-facts"}, membersAtFault(t, err)); diff != "" {
		t.Errorf("the present before a weigh-in of another piece (-want +got):\n%s", diff)
	}
	bad := piece(6)
	bad.Green = quantity.Mass{}
	_, err = drying.ProjectRack(rack(piece(6), bad))
	if diff := cmp.Diff(map[string]string{"#/pieces/1/green_weight": "minimum"}, membersAtFault(t, err)); diff != "" {
		t.Errorf("a piece of nothing (-want +got):\n%s", diff)
	}
}

// BenchmarkProjectRack is a rack of ten, each weighed ten times.
func BenchmarkProjectRack(b *testing.B) {
	var at, losses []float64
	for day := 1.0; day <= 10; day++ {
		at, losses = append(at, 2*day), append(losses, 40*(1-math.Exp(-0.08*day)))
	}
	var orders []drying.Order
	for range 10 {
		orders = append(orders, room(order(35, at, losses), 78))
	}
	for b.Loop() {
		projectRack(b, rack(orders...))
	}
}
