package acidity

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// DoseOrder asks how much of a culture goes into a batch, or what an amount of
// it comes to. One of Amount, Share and Target is stated, or none of them.
type DoseOrder struct {
	Batch    quantity.Mass                   // everything mixed, the culture and its water within
	Activity quantity.CellCount              // of the culture; zero when the label does not say
	Amount   quantity.Between[quantity.Mass] // that goes in; zero when it is not stated
	Share    quantity.PPM                    // of the batch that goes in; zero when it is not stated
	Spoons   quantity.Volume                 // that go in; zero when it is not stated
	Target   quantity.CellCount              // in a gram of the batch; zero is the usual target
	Water    quantity.Mass                   // to wake it in; zero when it is not stated
}

// Dose is how much of a culture goes in and what it comes to.
type Dose struct {
	Culture quantity.Between[quantity.Mass]
	Share   quantity.Between[quantity.PPM] // of the batch
	Cells   *quantity.Between[quantity.CellCount]
	Target  quantity.Between[quantity.CellCount]
	Pack    quantity.Between[quantity.Mass] // the usual dose on a pack, for a batch that is taken to be meat
	Lag     *Lag                            // nil where the cells are not known, or fewer than meat brings of itself
	Water   quantity.Fraction               // that wakes it, of the batch
	Notes   []finding.Note
}

// Lag is how much later the acid begins than with the low end of the target,
// with the fewest and with the most cells: negative is sooner.
type Lag struct {
	Warm, Cool quantity.Between[time.Duration]
}

// Growth is how fast the cells multiply in a culture that is kept warm or cool,
// in generations by the natural logarithm: 0.65 in an hour at 24 °C and 0.33 at
// 18 °C.
type growth struct {
	perHour float64
	at      quantity.Temperature
}

var (
	warm = growth{0.65, quantity.MustCelsius(24)}
	cool = growth{0.33, quantity.MustCelsius(18)}
)

// GrowthTemperatures returns what the lags are computed for.
func GrowthTemperatures() (warmer, cooler quantity.Temperature) { return warm.at, cool.at }

// GrowthSource cites the rates of growth.
func GrowthSource() source.Citation {
	return source.Citation{
		Title: "Growth of lactic acid bacteria in a batter, by the cardinal temperatures of sakei-like strains", Trust: source.Derived,
		Note: "0.65 an hour at 24 °C and 0.33 at 18 °C, so a tenth of the cells costs 3.5 and 7 h; derived of figures that are recalled",
	}
}

// later returns how much longer it takes to come to a number of cells:
//
//	ln(target / cells) / mu
func (g growth) later(cells, target quantity.CellCount) time.Duration {
	hours := math.Log(target.CFUPerGram()/cells.CFUPerGram()) / g.perHour
	return time.Duration(math.Round(hours * float64(time.Hour)))
}

// DoseOf returns how much of a culture goes in. It reports fault.Invalid when
// more goes in than half of the batch, when the water does not fit into it, and
// for cells that are asked for of a culture that nothing is known of.
func DoseOf(o DoseOrder) (Dose, error) {
	d := Dose{Target: rulebook.Dosing().Target.Between}
	guide := rulebook.Dosing()
	d.Pack = quantity.Between[quantity.Mass]{Low: guide.Pack.Low.Of(o.Batch), High: guide.Pack.High.Of(o.Batch)}
	if o.Target != (quantity.CellCount{}) {
		d.Target = quantity.Exactly(o.Target)
	}
	if err := d.amount(o); err != nil {
		return Dose{}, err
	}
	var bad fault.Collector
	const most = 0.5 // of the batch, beyond which it is a slip of a unit: a choice of this project
	if quantity.MustRatio(most).Of(o.Batch).Less(d.Culture.High) {
		bad.Add(fault.At("batch"), "minimum", "%s of culture is more than half of it", d.Culture.High)
	}
	water, err := o.Water.Over(o.Batch)
	if err == nil && water.Float() <= most {
		d.Water, err = quantity.NewFraction(water.Float())
		bad.AddError(fault.At("rehydration_water"), "invalid-value", err)
	} else {
		bad.Add(fault.At("rehydration_water"), "maximum", "%s is more than half of the batch", o.Water)
	}
	if err := bad.Err("invalid-value", "the order has no meaning as it stands"); err != nil {
		return Dose{}, err
	}
	if err := d.count(o); err != nil {
		return Dose{}, err
	}
	d.remark(o)
	return d, nil
}

// amount fills in what goes in.
func (d *Dose) amount(o DoseOrder) error {
	guide := rulebook.Dosing()
	switch {
	case !o.Amount.High.IsZero():
		d.Culture = o.Amount
	case o.Spoons.Millilitres() > 0:
		half, err := quantity.Teaspoons(0.5)
		if err != nil {
			return err
		}
		times, err := quantity.NewRatio(o.Spoons.Millilitres() / half.Millilitres())
		if err != nil {
			return err
		}
		d.Culture = quantity.Between[quantity.Mass]{Low: guide.Spoon.Low.Times(times), High: guide.Spoon.High.Times(times)}
	case !o.Share.IsZero():
		d.Culture = quantity.Exactly(o.Share.Of(o.Batch))
	case o.Activity != (quantity.CellCount{}):
		part := func(target quantity.CellCount) (quantity.Mass, error) {
			share, err := quantity.NewRatio(target.CFUPerGram() / o.Activity.CFUPerGram())
			return share.Of(o.Batch), err
		}
		var err error
		if d.Culture.Low, err = part(d.Target.Low); err != nil {
			return err
		}
		if d.Culture.High, err = part(d.Target.High); err != nil {
			return err
		}
	case o.Target != (quantity.CellCount{}):
		var bad fault.Collector
		bad.Add(fault.At("activity_cfu_per_g"), "required", "is missing: how many cells a gram of the culture brings, for a target in cells")
		return bad.Err("invalid-value", "the order has no meaning as it stands")
	default:
		d.Culture = d.Pack
	}
	return nil
}

// count fills in what the amount comes to.
func (d *Dose) count(o DoseOrder) error {
	part := func(m quantity.Mass) (quantity.Ratio, quantity.PPM, error) {
		share, err := m.Over(o.Batch)
		if err != nil {
			return quantity.Ratio{}, quantity.PPM{}, err
		}
		ppm, err := share.PPM()
		return share, ppm, err
	}
	low, lowPPM, err := part(d.Culture.Low)
	if err != nil {
		return err
	}
	high, highPPM, err := part(d.Culture.High)
	if err != nil {
		return err
	}
	d.Share = quantity.Between[quantity.PPM]{Low: lowPPM, High: highPPM}
	if o.Activity == (quantity.CellCount{}) {
		return nil
	}
	var cells quantity.Between[quantity.CellCount]
	if cells.Low, err = o.Activity.Diluted(low); err != nil {
		return err
	}
	if cells.High, err = o.Activity.Diluted(high); err != nil {
		return err
	}
	d.Cells = &cells
	if natural := rulebook.Dosing().Natural.Low; cells.Low.CFUPerGram() >= natural.CFUPerGram() {
		lag := func(g growth) quantity.Between[time.Duration] {
			return quantity.Between[time.Duration]{Low: g.later(cells.High, d.Target.Low), High: g.later(cells.Low, d.Target.Low)}
		}
		d.Lag = &Lag{Warm: lag(warm), Cool: lag(cool)}
	}
	return nil
}

func (d *Dose) note(code string, member fault.Path, from source.Citation, format string, args ...any) {
	d.Notes = append(d.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...), Source: from})
}

// rounding is what a dose may differ by from what it was computed from.
const rounding = 1e-9

// remark says what the figures do not show, and how a culture is woken.
func (d *Dose) remark(o DoseOrder) {
	guide := rulebook.Dosing()
	natural := guide.Natural
	if d.Cells == nil {
		d.note("activity-unknown", fault.At("activity_cfu_per_g"), guide.FreezeDried.Source,
			"how many living cells a gram of the culture has is not stated, so the cells in the batch are not known; freeze-dried cultures have up to %s", guide.FreezeDried.High)
	} else {
		d.note("age-unknown", fault.At("activity_cfu_per_g"), source.Citation{},
			"the cells are those that the label counted; how many still live after months, or after a warm journey, is not known")
	}
	if d.Cells != nil && d.Lag == nil {
		d.note("fewer-than-natural", nil, natural.Source, "%s is less than the %s to %s that meat brings of itself: when acid comes is left to chance, and no delay is computed",
			d.Cells.Low, natural.Low, natural.High)
	}
	if d.Cells != nil && d.Cells.Low.CFUPerGram() < guide.Target.Low.CFUPerGram()*(1-rounding) {
		d.note("underdose", nil, guide.Target.Source, "%s is less than the usual %s: the acid begins later, and what else is in the meat, %s to %s of lactic acid bacteria alone, has that long",
			d.Cells.Low, guide.Target.Low, natural.Low, natural.High)
	}
	if d.Cells != nil && d.Cells.High.CFUPerGram() > guide.Target.High.CFUPerGram()*(1+rounding) {
		d.note("overdose", nil, source.CommonPractice("more culture than usual makes the acid come sooner and not lower; recalled"),
			"%s is more than the usual %s: the acid comes sooner, which costs money and flavour", d.Cells.High, guide.Target.High)
	}
	if guide.Pack.High.Of(o.Batch).Less(d.Culture.Low) || d.Culture.High.Less(guide.Pack.Low.Of(o.Batch)) {
		d.note("not-the-pack-dose", nil, guide.Pack.Source, "a usual dose on a pack of freeze-dried culture would be %.3g to %.3g g; this culture's own label decides",
			d.Pack.Low.Grams(), d.Pack.High.Grams())
	}
	if o.Spoons.Millilitres() > 0 {
		d.note("spooned", fault.At("spoons"), guide.Spoon.Source, "by the spoon it weighs from %.3g to %.3g g: weigh it", d.Culture.Low.Grams(), d.Culture.High.Grams())
	}
	if d.Culture.Low.Less(quantity.MustGrams(1)) {
		d.note("small-weight", nil, source.Citation{}, "it takes a scale of 0.01 g, or a larger batch")
	}
	d.note("wake", nil, guide.Waking.Source, "wake a freeze-dried culture for %.0f to %.0f minutes in water without chlorine, distilled or boiled and cooled; a tablespoon is enough for a small batch",
		guide.Waking.Low.Minutes(), guide.Waking.High.Minutes())
	d.note("not-with-the-cure", nil, guide.Waking.Source, "it may go in dry with the spices, never with the cure: nitrite and salt undiluted kill it")
	if most := guide.MostWater; most.High.Float() < d.Water.Float() {
		d.note("much-water", fault.At("rehydration_water"), most.Source, "%.3g percent of added water is more than the %.3g of the handbook's generous figure, and has to be dried off again",
			d.Water.Percent(), most.High.Percent())
	}
	d.note("storage", nil, guide.Store.Source, "keep the culture frozen, at %s or below, until it is used", guide.Store.High)
}
