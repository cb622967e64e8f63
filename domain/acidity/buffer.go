package acidity

import (
	"fmt"
	"math"

	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
)

// Ground is what the acid is made in.
type Ground struct {
	Sugar quantity.Between[quantity.PPM] // added and fermentable, as glucose, on the meat
	Lean  quantity.Fraction              // of the meat
	Start quantity.Between[quantity.PH]
	Sour  bool // a culture that makes acid is added
}

// Limiter is what keeps the pH from going lower. The zero value is invalid.
type Limiter int

// The limiters.
const (
	NoCulture  Limiter = iota + 1 // nothing is added that makes acid
	SugarUsed                     // the sugar is used up
	AcidStops                     // the culture is stopped by its own acid
	UnknownMix                    // what an addition brings is not known, so nothing but the culture limits it
)

// String returns the word used on the wire.
func (l Limiter) String() string {
	switch l {
	case NoCulture:
		return "no-acid-culture"
	case SugarUsed:
		return "sugar"
	case AcidStops:
		return "culture"
	case UnknownMix:
		return "unknown-sugar"
	default:
		return "unstated"
	}
}

// End is one end of the final pH, with what it rests on.
type End struct {
	PH            quantity.PH
	Limit         Limiter
	Start         quantity.PH
	Sugar         quantity.PPM            // added, as glucose, on the meat
	OwnSugar      quantity.PPM            // of the meat, as glucose
	Efficiency    quantity.Fraction       // part of the sugar that becomes acid
	Buffer        quantity.BufferCapacity // of the lean
	Acid          quantity.AcidContent    // that the sugar can become, on the meat
	Undissociated quantity.Fraction       // of the acid, at this pH: it gives nothing off and is not counted
}

// Because says what the end rests on, for people.
func (e End) Because() string {
	if e.Limit == NoCulture {
		return "nothing is added that makes acid of sugar, so the pH is taken to stay where it starts"
	}
	given := fmt.Sprintf("from %s, with %.3g g/kg of sugar as glucose and %.3g g/kg of the meat's own, %.3g percent of it becoming acid, against a buffer of %.3g mmol/(kg lean · pH)",
		e.Start, e.Sugar.GramsPerKilogram(), e.OwnSugar.GramsPerKilogram(), e.Efficiency.Percent(), e.Buffer.MillimolesPerKilogramPH())
	switch e.Limit {
	case AcidStops:
		return given + "; there would be sugar for more, but acid stops about here by itself"
	case UnknownMix:
		return "what an addition brings of sugar is not known, so only that acid stops by itself limits it"
	default:
		return given + "; then the sugar is used up"
	}
}

// Final is the lowest and the highest pH that the acid comes to.
type Final struct{ Low, High End }

// Range returns the lowest and the highest pH.
func (f Final) Range() quantity.Between[quantity.PH] {
	return quantity.Between[quantity.PH]{Low: f.Low.PH, High: f.High.PH}
}

// FinalPH returns the pH at which the acid of sugar comes to an end, as a range:
// the low end with all that makes for more acid, the high end with all that
// makes for less. Each is where the protons that the acid gives off are those
// that the lean took up,
//
//		s y e / (1 + 10^(pKa - pH)) = b l (pH0 - pH)
//
//	  - s: sugar as glucose on the meat, added and the meat's own, g/kg
//	  - y: 11.10 mmol of lactic acid in a gram of glucose
//	  - e: part of the sugar that becomes acid
//	  - b: buffer of the lean, mmol/(kg · pH); l: lean in the meat
//	  - pH0: where it starts
//
// but not below where acid stops by itself, unless it starts there. The left side
// counts the dissociated part alone; free protons, less than one percent, count
// for nothing. It has one solution, found to 1e-9 in at most 35 steps. Where
// nothing makes acid the pH stays: what the meat's own bacteria do is left to
// chance. It returns the range errors of quantities.
func FinalPH(g Ground, by Assumptions) (Final, error) {
	low, err := end(g, g.Sugar.High, by.OwnSugar.High, by.Efficiency.High, by.Buffer.Low, g.Start.Low, by.Stop.Low)
	if err != nil {
		return Final{}, err
	}
	high, err := end(g, g.Sugar.Low, by.OwnSugar.Low, by.Efficiency.Low, by.Buffer.High, g.Start.High, by.Stop.High)
	return Final{Low: low, High: high}, err
}

func end(
	g Ground, sugar, own quantity.PPM, efficiency quantity.Fraction, buffer quantity.BufferCapacity, start, stop quantity.PH,
) (End, error) {
	e := End{PH: start, Limit: NoCulture, Start: start, Sugar: sugar, OwnSugar: own, Efficiency: efficiency, Buffer: buffer}
	if !g.Sour {
		return e, nil
	}
	all, err := quantity.PartsPerMillion(sugar.MilligramsPerKilogram() + own.MilligramsPerKilogram())
	if err != nil {
		return End{}, err
	}
	if e.Acid, err = LacticAcid(all, efficiency); err != nil {
		return End{}, err
	}
	takes := buffer.MillimolesPerKilogramPH() * g.Lean.Float()
	left := func(ph float64) float64 {
		return e.Acid.MillimolesPerKilogram()*dissociated(ph) - takes*(start.Float()-ph)
	}
	e.Limit = SugarUsed
	switch floor := stop.Float(); {
	case start.Float() <= floor:
		e.Limit = AcidStops
	case left(floor) >= 0:
		e.PH, e.Limit = stop, AcidStops
	case e.Acid.MillimolesPerKilogram() > 0:
		const tolerance = 1e-9
		root, err := numeric.Root(left, floor, start.Float(), tolerance)
		if err != nil {
			return End{}, fmt.Errorf("find the pH: %w", err)
		}
		if e.PH, err = quantity.NewPH(root); err != nil {
			return End{}, err
		}
	}
	e.Undissociated, err = quantity.NewFraction(1 - dissociated(e.PH.Float()))
	return e, err
}

// dissociated returns the part of lactic acid that has given off its proton, by
// Henderson and Hasselbalch.
func dissociated(ph float64) float64 { return 1 / (1 + math.Pow(10, pKa-ph)) }

// Need is the sugar that a pH takes, as glucose on the meat, by both rules.
type Need struct {
	Stoichiometry, Handbook quantity.Between[quantity.PPM]
}

// Ends returns the least by the chemistry and the most by the handbook: between
// them it is not shown either way.
func (n Need) Ends() (least, most quantity.PPM) { return n.Stoichiometry.Low, n.Handbook.High }

// NeedFor returns the sugar that takes meat to a pH.
//
//	stoichiometry = b l (pH0 - pH) (1 + 10^(pKa - pH)) / (y e) - own   g/kg
//	handbook      = (pH0 - pH) / 0.1 x 1                              g/kg
//
// with the symbols of [FinalPH], of which the first is the inverse where acid
// does not stop. It is nothing where the pH is reached already.
func NeedFor(wanted quantity.PH, lean quantity.Fraction, start quantity.Between[quantity.PH], by Assumptions) Need {
	chemistry := func(start quantity.PH, buffer quantity.BufferCapacity, efficiency quantity.Fraction, own quantity.PPM) quantity.PPM {
		protons := (start.Float() - wanted.Float()) * buffer.MillimolesPerKilogramPH() * lean.Float()
		return gramsPerKilogram(protons/dissociated(wanted.Float())/(acidPerGlucose*efficiency.Float()) - own.GramsPerKilogram())
	}
	handbook := func(start quantity.PH) quantity.PPM {
		const tenths = 10
		return gramsPerKilogram((start.Float() - wanted.Float()) * tenths * perTenth)
	}
	return Need{
		Stoichiometry: quantity.Between[quantity.PPM]{
			Low:  chemistry(start.Low, by.Buffer.Low, by.Efficiency.High, by.OwnSugar.High),
			High: chemistry(start.High, by.Buffer.High, by.Efficiency.Low, by.OwnSugar.Low),
		},
		Handbook: quantity.Between[quantity.PPM]{Low: handbook(start.Low), High: handbook(start.High)},
	}
}

// ByHandbook returns the pH that sugar comes to by the rule of the handbook, no
// lower than where acid stops.
func ByHandbook(g Ground, by Assumptions) (quantity.Between[quantity.PH], error) {
	if !g.Sour {
		return g.Start, nil
	}
	at := func(start quantity.PH, sugar quantity.PPM, stop quantity.PH) (quantity.PH, error) {
		const tenth = 0.1
		reached := start.Float() - sugar.GramsPerKilogram()/perTenth*tenth
		return quantity.NewPH(min(start.Float(), max(reached, stop.Float())))
	}
	low, err := at(g.Start.Low, g.Sugar.High, by.Stop.Low)
	if err != nil {
		return quantity.Between[quantity.PH]{}, err
	}
	high, err := at(g.Start.High, g.Sugar.Low, by.Stop.High)
	return quantity.Between[quantity.PH]{Low: low, High: high}, err
}

// Either returns the lowest and the highest pH of two ranges. The chemistry is
// known to be too sour, because meat takes more acid below pH 5.5 than its buffer
// above says, and the handbook to be not sour enough: what begins from how sour a
// sausage ends begins from both.
func Either(p, q quantity.Between[quantity.PH]) quantity.Between[quantity.PH] {
	high := p.High
	if high.Compare(q.High) < 0 {
		high = q.High
	}
	return quantity.Between[quantity.PH]{Low: lower(p.Low, q.Low), High: high}
}

// gramsPerKilogram returns a mass fraction, nothing for less than nothing.
func gramsPerKilogram(g float64) quantity.PPM {
	const milligrams = 1000
	p, err := quantity.PartsPerMillion(max(g, 0) * milligrams)
	if err != nil {
		return quantity.PPM{}
	}
	return p
}
