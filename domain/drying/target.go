package drying

import (
	"errors"
	"fmt"
	"math"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// TargetModel is the name and version of what answers a TargetOrder.
const TargetModel = "loss-for-target-2026.1"

// TargetOrder is a question: at which loss does a mixture have a wanted water
// activity, or a wanted moisture to its protein? A formula, or some of the
// composition, is needed, and at least one of the wanted; what was measured of
// the composition goes before what follows from the formula.
type TargetOrder struct {
	Composition   Composition
	Formula       *formula.Formula
	Dissolved     []Dissolved
	Green         material.Known[quantity.Mass]
	WaterActivity material.Known[quantity.WaterActivity]
	Ratio         material.Known[quantity.Ratio] // moisture to protein
	Humidity      material.Known[quantity.RelativeHumidity]
	Hygrometer    material.Known[quantity.RelativeHumidity] // how far off it may be, in points
	AtLosses      []quantity.Loss
}

// Dissolved is something else in the water of the mixture, per green mass.
type Dissolved struct {
	Solute wateractivity.Solute
	Share  quantity.Fraction
}

// Origin is where a part of a composition comes from. The zero value is invalid.
type Origin int

// The origins.
const (
	Measured Origin = iota + 1
	FromFormula
	Assumed // of a mixture like most, or of the other parts
)

// String returns the word used on the wire.
func (o Origin) String() string {
	switch o {
	case Measured:
		return "measured"
	case FromFormula:
		return "from-formula"
	case Assumed:
		return "assumed"
	default:
		return "unstated"
	}
}

// GreenMix is the composition that an answer was made with.
type GreenMix struct {
	Mix                              wateractivity.Mix
	Water, Protein, Fat, Salt, Sugar Origin
}

// LossBand is a loss, and the intervals that are claimed to hold it in so many of
// a hundred cases. An end that is not known lies where salt crystallises, below a
// water activity of 0.75.
type LossBand struct {
	Median material.Known[quantity.Loss]
	P80    quantity.Between[material.Known[quantity.Loss]]
	P95    quantity.Between[material.Known[quantity.Loss]]
}

// Aim is a wanted figure, and the loss that has it.
type Aim struct {
	Loss    LossBand
	Already bool     // the green mixture has it
	Reached air.Told // in the air of the room; zero where its humidity is not known
	There   *Makeup  // at the loss; nil where it is not known, or there is nothing to lose
}

// Makeup is what a mixture is made of after a loss.
type Makeup struct {
	Loss                         quantity.Loss
	Moisture, Protein, Fat, Salt quantity.Fraction
	WaterPhaseSalt               quantity.Fraction              // salt over salt and water
	SaltToWater                  quantity.Ratio                 // salt over water
	Ratio                        material.Known[quantity.Ratio] // moisture to protein
	SaltAlone                    material.Known[quantity.WaterActivity]
	WaterActivity                *quantity.Estimate[quantity.WaterActivity] // 80 percent; nil where salt crystallises
	Wide                         *quantity.Estimate[quantity.WaterActivity] // 95 percent
}

// TargetAnswer is the answer to a TargetOrder.
type TargetAnswer struct {
	Model         string
	Green         GreenMix
	Unknown       []string // names of what leaves a part of the formula's composition unknown
	WaterActivity *Aim
	Ratio         *Aim
	Both          *Aim      // the later of the two; nil unless both are wanted
	Stops         *LossBand // where the air of the room stops the drying
	Hygrometer    quantity.RelativeHumidity
	Table         []Makeup // at 0, 5, 10… percent of loss, as long as there is water
	Asked         []Makeup // at the losses of the order, in its order
	Notes         []finding.Note
}

// What a figure may be off, of which the ends of the intervals are made; see
// averageSource and analysisSource. It is at the ends of 95 percent; those of 80
// are nearer by what a normal distribution has there.
const (
	trimFat  = 0.08  // of fat, of a mixture reckoned from averages
	analysis = 0.005 // of water or protein, of one that was analysed
	toEighty = 1.2816 / 1.96
	// leastProtein is the part of the green mass from which on a moisture to protein
	// means something.
	leastProtein  = 1e-4
	mostFermented = 1.0   // percent of sugar
	tablePart     = 5.0   // percent
	highestRH     = 0.995 // above it the balance is of a piece that soaks
)

var (
	averageSource  = source.CommonPractice("the fat of trim differs by 8 points either way from the average of its cut")
	analysisSource = source.CommonPractice("analyses of moisture and protein repeat within half a point (recalled)")
)

// TargetSources returns the citations behind an answer.
func TargetSources() []source.Citation {
	return []source.Citation{
		wateractivity.BrineSource(), wateractivity.JuiceSource(), wateractivity.SorptionSource(), wateractivity.NorrishSource(),
		wateractivity.EstimateSource(), averageSource, analysisSource,
	}
}

// LossForTarget answers an order. It reports fault.Invalid with every member at
// fault: nothing wanted (water_activity, required), a moisture to protein that
// is not positive, a mixture that has no meaning (below composition), a loss of
// at_losses_percent that leaves no water; and the faults of CompositionOf.
//
// The ends of a loss for a water activity are where the estimate is off by 0.03
// (80 percent) and 0.05 (95 percent) either way. Those for a moisture to protein
// are of the composition alone: of an analysis half a point of moisture and of
// protein, else 8 points of fat with the lean in its proportion.
func LossForTarget(o TargetOrder) (TargetAnswer, error) {
	g, unknown, err := o.mixed()
	if err != nil {
		return TargetAnswer{}, err
	}
	a := TargetAnswer{Model: TargetModel, Green: g, Unknown: unknown}
	if err := o.validate(g.Mix); err != nil {
		return TargetAnswer{}, err
	}
	if humidity, known := o.Humidity.Get(); known {
		a.Hygrometer = o.Hygrometer.Or(air.DefaultHygrometer(humidity))
		stops, err := stopBand(g.Mix, humidity, a.Hygrometer)
		if err != nil {
			return a, err
		}
		a.Stops = &stops
	}
	if wanted, known := o.WaterActivity.Get(); known {
		if a.WaterActivity, err = o.forActivity(g.Mix, wanted, a.Hygrometer); err != nil {
			return a, err
		}
	}
	if wanted, known := o.Ratio.Get(); known {
		if a.Ratio, err = o.forRatio(g, wanted, a.Stops); err != nil {
			return a, err
		}
	}
	if a.WaterActivity != nil && a.Ratio != nil {
		a.Both = later(*a.WaterActivity, *a.Ratio)
	}
	for _, aim := range []*Aim{a.WaterActivity, a.Ratio, a.Both} {
		if err := aim.arrive(g.Mix); err != nil {
			return a, err
		}
	}
	for percent := 0.0; percent/100 < g.Mix.Water.Float(); percent += tablePart {
		m, err := makeupAt(g.Mix, percent)
		if err != nil {
			return a, err
		}
		a.Table = append(a.Table, m)
	}
	for _, l := range o.AtLosses {
		m, err := MakeupOf(g.Mix, l)
		if err != nil {
			return a, err
		}
		a.Asked = append(a.Asked, m)
	}
	a.Notes = o.notes(a)
	return a, nil
}

// mixed returns the composition: what was measured, then what follows from the
// formula, then what is usual.
func (o TargetOrder) mixed() (g GreenMix, unknown []string, err error) {
	var bad fault.Collector
	computed := Composition{}
	if o.Formula != nil {
		if computed, unknown, err = CompositionOf(*o.Formula); err != nil {
			return g, nil, err
		}
	}
	computed, err = computed.proportioned(o.Composition)
	if err != nil {
		return g, nil, err
	}
	merge := func(measured, computed material.Known[quantity.Fraction]) (material.Known[quantity.Fraction], Origin) {
		switch {
		case known(measured):
			return measured, Measured
		case known(computed):
			return computed, FromFormula
		default:
			return measured, Assumed
		}
	}
	var c Composition
	c.Water, g.Water = merge(o.Composition.Water, computed.Water)
	c.Protein, g.Protein = merge(o.Composition.Protein, computed.Protein)
	c.Fat, g.Fat = merge(o.Composition.Fat, computed.Fat)
	c.Salt, g.Salt = merge(o.Composition.Salt, computed.Salt)
	c.Sugar, g.Sugar = merge(o.Composition.Sugar, computed.Sugar)
	var dissolved float64
	for _, d := range o.Dissolved {
		dissolved += d.Share.Float()
	}
	if err := c.makeRoom(g, dissolved); err != nil {
		return g, nil, err
	}
	g.Mix, _, err = c.Mix()
	if err == nil && len(o.Dissolved) > 0 {
		whole := Composition{
			Water: material.Is(g.Mix.Water), Protein: material.Is(g.Mix.Protein), Fat: material.Is(g.Mix.Fat), Salt: material.Is(g.Mix.Salt), Sugar: material.Is(g.Mix.Sugar),
		}
		if err := whole.makeRoom(g, dissolved); err != nil {
			return g, nil, err
		}
		g.Mix, _, err = whole.Mix()
	}
	for i, d := range o.Dissolved {
		var with error
		g.Mix, with = g.Mix.With(d.Solute, d.Share)
		bad.AddError(fault.At("dissolved", i), codeInvalid, with)
	}
	if len(o.Dissolved) > 0 && err == nil {
		err = g.Mix.Validate()
	}
	f, isFault := errors.AsType[*fault.Error](err)
	switch {
	case err == nil:
	case !isFault:
		return g, nil, err
	default:
		told, over := false, ""
		for _, v := range f.Violations {
			if v.Code == "sum" {
				over = v.Detail
			}
			if o.Composition.gives(v.Path) {
				told = true
				bad.Add(v.Path.Under(fault.At("composition")), v.Code, "%s", v.Detail)
			}
		}
		switch {
		case over != "" && len(o.Dissolved) > 0:
			bad.Add(fault.At("dissolved"), "sum", "%s", over)
		case !told:
			bad.Add(fault.At("composition"), f.Code, "what is given leaves no room for the rest of a sausage: %s", f.Detail)
		}
	}
	return g, unknown, bad.Err(codeInvalid, "the mixture has no meaning as it stands")
}

// proportioned returns what follows of a composition from a formula when some of
// it was measured: the mixture is leaner or fatter than was reckoned, and its lean
// keeps the proportion of water and protein. Fat then is what is left.
func (c Composition) proportioned(measured Composition) (Composition, error) {
	water, hasWater := c.Water.Get()
	protein, hasProtein := c.Protein.Get()
	fat, hasFat := c.Fat.Get()
	if !hasWater || !hasProtein || !hasFat || water.IsZero() || protein.IsZero() {
		return c, nil
	}
	lean := 1.0 // how many times as much of it there is
	switch w, isWater := measured.Water.Get(); {
	case isWater:
		lean = w.Float() / water.Float()
	default:
		p, isProtein := measured.Protein.Get()
		f, isFat := measured.Fat.Get()
		switch {
		case isProtein:
			lean = p.Float() / protein.Float()
		case isFat:
			lean = math.Max(0, 1-(f.Float()-fat.Float())/(water.Float()+protein.Float()))
		default:
			return c, nil
		}
	}
	scaled := func(part quantity.Fraction) (material.Known[quantity.Fraction], error) {
		f, err := quantity.NewFraction(math.Min(1, part.Float()*lean))
		return material.Is(f), err
	}
	var err error
	if c.Water, err = scaled(water); err != nil {
		return c, err
	}
	c.Protein, err = scaled(protein)
	c.Fat = material.Known[quantity.Fraction]{}
	return c, err
}

// makeRoom makes water, protein and fat that nobody measured as much less, each in
// its proportion, as the whole is over 100 percent with what is dissolved besides: a
// formula tells of the mixture without it.
func (c *Composition) makeRoom(g GreenMix, dissolved float64) error {
	var none quantity.Fraction
	fixed := dissolved + c.Salt.Or(none).Float() + c.Sugar.Or(none).Float()
	var movable float64
	parts := []struct {
		of   *material.Known[quantity.Fraction]
		from Origin
	}{{&c.Water, g.Water}, {&c.Protein, g.Protein}, {&c.Fat, g.Fat}}
	for _, p := range parts {
		if p.from == Measured {
			fixed += p.of.Or(none).Float()
		} else {
			movable += p.of.Or(none).Float()
		}
	}
	if fixed >= 1 || fixed+movable <= 1 {
		return nil
	}
	for _, p := range parts {
		part, is := p.of.Get()
		if !is || p.from == Measured {
			continue
		}
		less, err := quantity.NewFraction(part.Float() * (1 - fixed) / movable)
		if err != nil {
			return err
		}
		*p.of = material.Is(less)
	}
	return nil
}

// codeInvalid is the code of what has no meaning.
const codeInvalid = "invalid-value"

func (o TargetOrder) validate(m wateractivity.Mix) error {
	var bad fault.Collector
	if !known(o.WaterActivity) && !known(o.Ratio) {
		bad.Add(fault.At("water_activity"), "required", "nothing is wanted: a water activity, a moisture to protein, or both")
	}
	if wanted, is := o.Ratio.Get(); is {
		switch {
		case !m.Protein.IsZero():
			_, err := m.LossAtRatio(wanted)
			bad.AddError(nil, codeInvalid, err)
		case known(o.Composition.Protein) || o.Formula == nil:
			bad.Add(fault.At("composition", "protein_percent"), "minimum", "there must be more than 0 %% of protein for a moisture to it")
		default:
			bad.Add(fault.At("formula"), "minimum", "it has no protein, and a moisture to protein is wanted")
		}
	}
	for i, l := range o.AtLosses {
		if _, err := m.Moisture(l); err != nil {
			bad.Add(fault.At("at_losses_percent", i), "maximum", "a loss must leave some of the %v of water, got %v", m.Water, l)
		}
	}
	return bad.Err(codeInvalid, "the order has no meaning as it stands")
}

// lossAt returns the loss at a water activity, which may lie outside 0 to 1 by
// what an estimate may be off: none where the green mixture is drier, not known
// where salt crystallises.
func lossAt(m wateractivity.Mix, activity float64) (material.Known[quantity.Loss], error) {
	if activity >= highestRH {
		return material.Is(quantity.Loss{}), nil
	}
	aw, err := quantity.NewWaterActivity(math.Max(activity, 0))
	if err != nil {
		return material.Known[quantity.Loss]{}, err
	}
	loss, err := m.LossAt(aw)
	f, isFault := errors.AsType[*fault.Error](err)
	switch {
	case err == nil && loss.Float() < 0:
		return material.Is(quantity.Loss{}), nil
	case isFault && f.Kind == fault.NoSolution: // wetter than the mixture gets
		return material.Is(quantity.Loss{}), nil
	case isFault && f.Kind == fault.OutsideModel:
		return material.Known[quantity.Loss]{}, nil
	default:
		return material.Is(loss), err
	}
}

// activityBand returns the band of the loss at a water activity, when it may be
// off by so much in 80 and in 95 of 100 cases.
func activityBand(m wateractivity.Mix, aw, off80, off95 float64) (b LossBand, err error) {
	for _, end := range []struct {
		of *material.Known[quantity.Loss]
		at float64
	}{
		{&b.Median, aw},
		{&b.P80.Low, aw + off80}, {&b.P80.High, aw - off80}, {&b.P95.Low, aw + off95}, {&b.P95.High, aw - off95},
	} {
		if *end.of, err = lossAt(m, end.at); err != nil {
			return b, fmt.Errorf("the loss at a water activity of %v: %w", end.at, err)
		}
	}
	return b, nil
}

// offs returns what an estimate may be off either way, 80 and 95 percent.
func offs() (off80, off95 float64, err error) {
	aw := quantity.MustWaterActivity(0.5) // far from where the scale cuts an end off
	narrow, err := wateractivity.Estimate80(aw)
	if err != nil {
		return 0, 0, err
	}
	wide, err := wateractivity.Estimate95(aw)
	return aw.Float() - narrow.Low.Float(), aw.Float() - wide.Low.Float(), err
}

// stopBand returns where the air of a room stops the drying: the estimate and the
// hygrometer may be off, independently of each other. The error of the
// hygrometer is taken for its 95 percent.
func stopBand(m wateractivity.Mix, humidity, hygrometer quantity.RelativeHumidity) (LossBand, error) {
	aw := humidity.WaterActivity()
	off80, off95, err := offs()
	if err != nil {
		return LossBand{}, err
	}
	return activityBand(m, aw.Float(), math.Hypot(off80, toEighty*hygrometer.Float()), math.Hypot(off95, hygrometer.Float()))
}

func (o TargetOrder) forActivity(m wateractivity.Mix, wanted quantity.WaterActivity, hygrometer quantity.RelativeHumidity) (*Aim, error) {
	off80, off95, err := offs()
	if err != nil {
		return nil, err
	}
	var a Aim
	if a.Loss, err = activityBand(m, wanted.Float(), off80, off95); err != nil {
		return nil, err
	}
	a.settle()
	// In the end the product is as the air is, whatever its composition.
	if humidity, is := o.Humidity.Get(); is {
		gap := wanted.Float() - humidity.Float()
		switch {
		case gap > hygrometer.Float():
			a.Reached = air.Yes
		case gap < -hygrometer.Float():
			a.Reached = air.No
		default:
			a.Reached = air.NotTold
		}
	}
	return &a, nil
}

func (o TargetOrder) forRatio(g GreenMix, wanted quantity.Ratio, stops *LossBand) (*Aim, error) {
	mid, err := g.Mix.LossAtRatio(wanted)
	if err != nil {
		return nil, err
	}
	water, protein, ratio := g.Mix.Water.Float(), g.Mix.Protein.Float(), wanted.Float()
	off := analysis * (1 + ratio)
	if g.Water != Measured || g.Protein != Measured {
		// Fat takes the place of lean, whose water and protein keep their
		// proportion: d(w - ratio*p) = (w - ratio*p)/(w + p) of it.
		off = trimFat * math.Abs(water-ratio*protein) / (water + protein)
	}
	end := func(by float64) (material.Known[quantity.Loss], error) {
		loss, err := quantity.LossPercent(100 * math.Max(0, math.Min(mid.Float()+by, water)))
		return material.Is(loss), err
	}
	var a Aim
	for _, e := range []struct {
		of *material.Known[quantity.Loss]
		by float64
	}{
		{&a.Loss.Median, 0}, {&a.Loss.P80.Low, -toEighty * off}, {&a.Loss.P80.High, toEighty * off}, {&a.Loss.P95.Low, -off}, {&a.Loss.P95.High, off},
	} {
		if *e.of, err = end(e.by); err != nil {
			return nil, err
		}
	}
	a.settle()
	if stops != nil {
		a.Reached = before(a.Loss, *stops)
	}
	return &a, nil
}

// settle says whether there is anything to lose.
func (a *Aim) settle() {
	loss, is := a.Loss.Median.Get()
	a.Already = is && loss.Float() == 0
}

// before tells whether a loss comes before another by their 80 percent.
func before(loss, stop LossBand) air.Told {
	less := func(a, b material.Known[quantity.Loss]) bool {
		x, xKnown := a.Get()
		y, yKnown := b.Get()
		return xKnown && (!yKnown || x.Less(y)) // what is not known lies farther than all that is
	}
	switch {
	case less(loss.P80.High, stop.P80.Low):
		return air.Yes
	case less(stop.P80.High, loss.P80.Low):
		return air.No
	default:
		return air.NotTold
	}
}

// later returns the later of two, end by end.
func later(a, b Aim) *Aim {
	of := func(x, y material.Known[quantity.Loss]) material.Known[quantity.Loss] {
		p, pKnown := x.Get()
		q, qKnown := y.Get()
		if !pKnown || !qKnown {
			return material.Known[quantity.Loss]{}
		}
		if p.Less(q) {
			return material.Is(q)
		}
		return material.Is(p)
	}
	between := func(x, y quantity.Between[material.Known[quantity.Loss]]) quantity.Between[material.Known[quantity.Loss]] {
		return quantity.Between[material.Known[quantity.Loss]]{Low: of(x.Low, y.Low), High: of(x.High, y.High)}
	}
	both := Aim{
		Loss:    LossBand{Median: of(a.Loss.Median, b.Loss.Median), P80: between(a.Loss.P80, b.Loss.P80), P95: between(a.Loss.P95, b.Loss.P95)},
		Already: a.Already && b.Already, Reached: a.Reached,
	}
	switch {
	case a.Reached == air.No || b.Reached == air.No:
		both.Reached = air.No
	case a.Reached == air.NotTold || b.Reached == air.NotTold:
		both.Reached = air.NotTold
	}
	return &both
}

// arrive sets what the mixture is at the loss.
func (a *Aim) arrive(m wateractivity.Mix) error {
	if a == nil {
		return nil
	}
	loss, is := a.Loss.Median.Get()
	if !is || loss.Float() >= m.Water.Float() {
		return nil
	}
	there, err := MakeupOf(m, loss)
	a.There = &there
	return err
}

func makeupAt(m wateractivity.Mix, percent float64) (Makeup, error) {
	loss, err := quantity.LossPercent(percent)
	if err != nil {
		return Makeup{}, err
	}
	return MakeupOf(m, loss)
}

// MakeupOf returns what a mixture is made of after a loss, all of it water. It
// reports what wateractivity.Mix.Moisture reports.
func MakeupOf(m wateractivity.Mix, loss quantity.Loss) (p Makeup, err error) {
	p.Loss = loss
	if p.Moisture, err = m.Moisture(loss); err != nil {
		return p, err
	}
	left := 1 - loss.Float()
	for _, part := range []struct {
		to *quantity.Fraction
		of quantity.Fraction
	}{{&p.Protein, m.Protein}, {&p.Fat, m.Fat}, {&p.Salt, m.Salt}} {
		if *part.to, err = quantity.NewFraction(math.Min(1, part.of.Float()/left)); err != nil {
			return p, err
		}
	}
	water := m.Water.Float() - loss.Float()
	if p.WaterPhaseSalt, err = quantity.NewFraction(m.Salt.Float() / (m.Salt.Float() + water)); err != nil {
		return p, err
	}
	if p.SaltToWater, err = m.SaltInWater(loss); err != nil {
		return p, err
	}
	if m.Protein.Float() >= leastProtein {
		ratio, err := m.MoistureProteinRatio(loss)
		if err != nil {
			return p, err
		}
		p.Ratio = material.Is(ratio)
	}
	if alone, err := wateractivity.Brine(p.SaltToWater); err == nil {
		p.SaltAlone = material.Is(alone)
	}
	aw, err := m.At(loss)
	if f, isFault := errors.AsType[*fault.Error](err); isFault && f.Kind == fault.OutsideModel {
		return p, nil // salt crystallises
	}
	if err != nil {
		return p, err
	}
	narrow, err := wateractivity.Estimate80(aw)
	if err != nil {
		return p, err
	}
	wide, err := wateractivity.Estimate95(aw)
	p.WaterActivity, p.Wide = &narrow, &wide
	return p, err
}

func (o TargetOrder) notes(a TargetAnswer) []finding.Note {
	var notes []finding.Note
	note := func(code string, member []string, text string, from source.Citation) {
		notes = append(notes, finding.Note{Code: code, Member: member, Text: text, Source: from})
	}
	if a.WaterActivity != nil {
		note("estimate-reads-high", fault.At("water_activity"),
			"The water activity is estimated from the composition, not measured. Ordinary sausages were found 0 to 0.03 below the estimate, long ripened or heavily seasoned ones 0.03 to 0.09 below: they get there at less loss. A meter decides.",
			wateractivity.EstimateSource())
		if !known(a.WaterActivity.Loss.Median) {
			note("salt-crystallises", fault.At("water_activity"), "Below a water activity of 0.75 salt crystallises, and nothing is told.", wateractivity.BrineSource())
		}
	}
	if a.Green.Water == Assumed || a.Green.Protein == Assumed || a.Green.Salt == Assumed {
		note("composition-not-given", fault.At("composition"),
			"What is not given of the composition is taken as of three parts lean pork and one part back fat with 2.7 % of salt; fatter mixtures get to a water activity at less loss, leaner ones at more.",
			wateractivity.TypicalMixSource())
	}
	if a.Green.Mix.Sugar.Percent() > mostFermented {
		member := fault.At("composition", "sugar_percent")
		if a.Green.Sugar == FromFormula {
			member = fault.At("formula")
		}
		note("sugar-left-over", member,
			"All of the sugar counts as fermented. More than about 1 % is not used up; what is left over takes half as much from the water activity as is told here.",
			source.CommonPractice("acid stops the culture (recalled)"))
	}
	if len(a.Unknown) > 0 {
		note("contents-unknown", fault.At("formula"), fmt.Sprintf("It is not known what these hold: %s.", listed(a.Unknown)), source.Citation{})
	}
	if a.Stops != nil {
		note("stop-may-come-before", fault.At("relative_humidity_percent"),
			"Where the drying stops comes of the same estimate. As that reads high for many sausages, they stop at less loss than is told here.",
			wateractivity.EstimateSource())
		if !known(o.Hygrometer) {
			note("hygrometer-assumed", fault.At("hygrometer_uncertainty_percent"),
				fmt.Sprintf("The hygrometer is taken to be off by up to %s either way: check it over a paste of salt and water, and state what yours is off.", a.Hygrometer),
				source.CommonPractice("3 points of a household hygrometer that nobody checked; up to 5 above 80 percent"))
		}
		for _, aim := range []*Aim{a.WaterActivity, a.Ratio} {
			if aim == nil {
				continue
			}
			loss, isLoss := aim.Loss.Median.Get()
			stop, isStop := a.Stops.Median.Get()
			if isLoss && isStop && !aim.Already && math.Abs(loss.Percent()-stop.Percent()) <= closeToStop {
				note("near-the-stop", fault.At("relative_humidity_percent"),
					"A wanted loss is within 2 points of where this air stops the drying: the last of it takes very long, and may never come.", source.Citation{})
				break
			}
		}
	}
	return notes
}

// listed prints a few names.
func listed(names []string) string {
	const most = 10
	text := ""
	for i, n := range names {
		switch {
		case i == most:
			return text + fmt.Sprintf(" and %d more", len(names)-most)
		case i > 0:
			text += ", "
		}
		text += n
	}
	return text
}
