package drying

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Hung is one of several pieces that hang together.
type Hung struct {
	Name     string
	Hung     time.Time // the zero time when it does not hang
	Diameter material.Known[quantity.Length]
	Weighed  []Weighed // as its projection has them
}

// Evenness is whether pieces that hang together dry alike. The zero value is
// invalid.
type Evenness int

// The verdicts.
const (
	Even             Evenness = iota + 1 // no wider apart than pieces of a lot usually are
	UnevenWatch                          // wider, which with so few pieces may be chance
	Uneven                               // wider, and not by chance
	EvennessNotShown                     // fewer than two were weighed at about the same time
)

var evenWords = []string{"", "even", "watch", "uneven", "not-shown"}

// String returns the word used on the wire.
func (v Evenness) String() string { return wordOf(evenWords, int(v)) }

// Spread is how far the losses of pieces that hang together are apart.
type Spread struct {
	Verdict Evenness
	Pieces  []HungLoss // those that were compared, in their order
	Mean    material.Known[quantity.Loss]
	SD      material.Known[quantity.Loss] // standard deviation, in points
	Usual   quantity.Loss                 // the most that is usual
	Why     string
	Source  source.Citation
}

// HungLoss is a piece of them.
type HungLoss struct {
	Name  string
	At    time.Time
	Loss  quantity.Loss
	Off   quantity.Loss // from the mean of all; less than nothing where it lags
	Lags  bool
	Leads bool
}

var spreadSource = source.CommonPractice("pieces of one batch are 2 to 3 points of loss apart, as a standard deviation (recalled, medium)")

// Bounds of the comparison: what is usual is spreadSource, the others are choices of
// this project.
const (
	usualSpread   = 3.0            // points, one standard deviation
	sameTime      = 24 * time.Hour // how far apart weigh-ins and hangings of one comparison may be
	alike         = 1.15           // and how far apart, as a ratio, diameters
	chanceOfMore  = 0.1            // that pieces which are as usual are called uneven
	leastCompared = 2
)

// Compare says whether pieces that hang together dry alike, from the last weigh-in
// that counts of each: of those that were weighed within a day of the latest, the
// most that hang since within a day of each other and are about as thick.
//
// n pieces with a standard deviation s are uneven when pieces of the most that is
// usual, 3 points, would be so far apart in less than one of ten cases:
//
//	(n-1) s² / 3² > the 0.9 quantile of chi-squared with n-1 degrees of freedom
//
// A piece lags or leads when it is more than 3 points off the mean of the others.
func Compare(pieces []Hung) Spread {
	w := &writer{}
	out := Spread{Verdict: EvennessNotShown, Usual: w.points(usualSpread), Source: spreadSource}
	out.Pieces = compared(pieces)
	n := float64(len(out.Pieces))
	if len(out.Pieces) < leastCompared {
		out.Why = "Fewer than two pieces that hang together since about the same time, and are about as thick, were weighed within a day of each other."
		return out
	}
	mean, squares := 0.0, 0.0
	for _, p := range out.Pieces {
		mean += p.Loss.Percent() / n
	}
	for i := range out.Pieces {
		p := &out.Pieces[i]
		off := p.Loss.Percent() - mean
		p.Off = w.points(off)
		squares += square(off)
		ofOthers := off * n / (n - 1)
		p.Lags, p.Leads = ofOthers < -usualSpread, ofOthers > usualSpread
	}
	sd := math.Sqrt(squares / (n - 1))
	out.Mean, out.SD = material.Is(w.points(mean)), material.Is(w.points(sd))
	limit := usualSpread * math.Sqrt(distuv.ChiSquared{K: n - 1}.Quantile(1-chanceOfMore)/(n-1))
	apart := fmt.Sprintf("The losses of %d pieces are %.1f points apart (standard deviation) about %.1f %%; 2 to 3 points are usual.", len(out.Pieces), sd, mean)
	switch {
	case sd > limit:
		out.Verdict, out.Why = Uneven, apart+" "+out.turn()
	case sd > usualSpread:
		out.Verdict, out.Why = UnevenWatch, apart+" With so few pieces that may be chance. "+out.turn()
	default:
		out.Verdict, out.Why = Even, apart+" The last piece is done later than the mean: decide by each."
		for i := range out.Pieces {
			out.Pieces[i].Lags, out.Pieces[i].Leads = false, false
		}
	}
	return out
}

// compared returns the pieces that can be compared: the most that are alike, of those
// that were weighed of late.
func compared(pieces []Hung) []HungLoss {
	type candidate struct {
		HungLoss
		hung Hung
	}
	var all []candidate
	var latest time.Time
	for _, p := range pieces {
		if p.Hung.IsZero() {
			continue
		}
		for i := len(p.Weighed) - 1; i >= 0; i-- {
			if in := p.Weighed[i]; in.Doubt == "" && in.Since >= leastHanging {
				all = append(all, candidate{HungLoss{Name: p.Name, At: in.At, Loss: in.Loss}, p})
				if in.At.After(latest) {
					latest = in.At
				}
				break
			}
		}
	}
	all = slices.DeleteFunc(all, func(c candidate) bool { return latest.Sub(c.At) > sameTime })
	var most []HungLoss
	for _, first := range all {
		var out []HungLoss
		thick := first.hung.Diameter
		for _, c := range all {
			if after := c.hung.Hung.Sub(first.hung.Hung); after < 0 || after > sameTime {
				continue
			}
			if d, sized := c.hung.Diameter.Get(); sized {
				of := thick.Or(d).Millimetres()
				if ratio := d.Millimetres() / of; ratio > alike || ratio < 1/alike {
					continue
				}
				thick = material.Is(thick.Or(d))
			}
			out = append(out, c.HungLoss)
		}
		if len(out) > len(most) {
			most = out
		}
	}
	return most
}

// turn says which pieces to move.
func (s Spread) turn() string {
	var lag, lead []string
	for _, p := range s.Pieces {
		if p.Lags {
			lag = append(lag, p.Name)
		}
		if p.Leads {
			lead = append(lead, p.Name)
		}
	}
	said := "Turn the pieces and change their places every few days, so that the same air reaches each."
	if len(lag) > 0 {
		said = "Behind: " + named(lag) + ", move to where the air moves. " + said
	}
	if len(lead) > 0 {
		said = "Ahead: " + named(lead) + ", move out of the draught. " + said
	}
	return said
}

// named lists names, not all of many.
func named(all []string) string {
	const most = 6
	if len(all) <= most {
		return strings.Join(all, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(all[:most], ", "), len(all)-most)
}

// points returns a difference of losses.
func (w *writer) points(p float64) quantity.Loss {
	l, err := quantity.LossPercent(p)
	w.keep(err)
	return l
}
