package formula

import (
	"cmp"
	"fmt"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Amount is how much to make; one of the first five members is set.
type Amount struct {
	Meat     quantity.Mass // the meat on hand
	Batch    quantity.Mass // everything mixed
	Finished quantity.Mass // what should be left after the planned loss
	OnHand   *OnHand       // as much as what is on hand of the parts allows
	Casings  *Casings      // as much as these casings hold

	// StuffingLoss is the part of the batch that is not hung, because it sticks to
	// bowl, grinder and stuffer. Zero when it is not stated.
	StuffingLoss quantity.Fraction
}

// Order is a formula, how much to make of it, and what there is to weigh with:
// one scale, or several.
type Order struct {
	Formula Formula
	Amount  Amount
	Scale   Divisions // DefaultScale when there are no Scales either
	Scales  Balances
}

// Range is the division of a scale up to a load.
type Range struct {
	UpTo     quantity.Mass // zero: without end
	Division quantity.Mass
}

// Divisions is the ranges of a scale, or of the scales at hand, finest first.
type Divisions []Range

// DefaultScale is a small scale beside a kitchen scale: 0.1 g under 200 g and
// 1 g above. Common practice, no source.
func DefaultScale() Divisions {
	return Divisions{
		{UpTo: quantity.MustGrams(200), Division: quantity.MustGrams(0.1)},
		{Division: quantity.MustGrams(1)},
	}
}

// Division returns the division for a load: of the first range that reaches
// it, else of the last. There must be a range.
func (d Divisions) Division(load quantity.Mass) quantity.Mass {
	for _, r := range d {
		if r.UpTo.IsZero() || load.Less(r.UpTo) {
			return r.Division
		}
	}
	return d[len(d)-1].Division
}

// Line is one thing to weigh or to spoon.
type Line struct {
	Member   fault.Path // from the formula down, such as additions/1
	Name     string
	Role     Role
	Addition *Addition // what is mixed in, or the culture whose water it is; nil for meat
	Part     *Part     // the meat; nil for an addition
	Asked    Rate      // zero for meat

	Exact    quantity.Mass                   // before rounding; the middle of Range for a spooned powder
	Range    quantity.Between[quantity.Mass] // what may end up in the mixture: one value but for a spooned powder
	Spoons   quantity.Volume                 // how much to spoon; zero when it goes on the scale
	Division quantity.Mass                   // of the scale; zero when it is spooned
	Steps    int64                           // divisions on the scale
}

// Spooned reports whether the line is measured by the spoon.
func (l Line) Spooned() bool { return l.Division.IsZero() }

// OnScale returns the mass to put on the scale: a whole number of divisions.
// It is the middle of the range for a spooned powder.
func (l Line) OnScale() quantity.Mass {
	if l.Spooned() {
		return l.Exact
	}
	return l.Range.Low
}

// SpoonSource returns where the weight of the spoonful comes from; nothing for
// a line that is weighed.
func (l Line) SpoonSource() source.Citation {
	if !l.Spooned() || l.Addition == nil {
		return source.Citation{}
	}
	return l.Addition.densitySource()
}

// Rounding returns the direction in which the line is rounded to the scale: a
// dose with a ceiling never up, a dose with a floor never down.
func (l Line) Rounding() quantity.RoundDirection { return l.Role.rounding() }

// Weighing returns the line with m on the scale instead, rounded in a given
// direction to the scale's division for m; a spooned line becomes a weighed one.
func (l Line) Weighing(m quantity.Mass, scale Divisions, direction quantity.RoundDirection) (Line, error) {
	division := scale.Division(m)
	rounded, steps, err := m.RoundTo(division, direction)
	if err != nil {
		return Line{}, err
	}
	l.Exact, l.Range, l.Division, l.Steps, l.Spoons = m, quantity.Exactly(rounded), division, steps, quantity.Volume{}
	return l, nil
}

// Sheet is a weigh sheet: what to put on the scale, in order of work.
type Sheet struct {
	Lines  []Line
	Scale  Divisions
	Scales Balances           // the scales that Scale is made of; none when one list of divisions was stated
	Loss   *quantity.Fraction // planned; nil when it is not stated
	Notes  []finding.Note

	StuffingLoss quantity.Fraction // of the batch
}

// Meat returns the mass of the meat block as weighed.
func (s Sheet) Meat() quantity.Mass {
	var sum quantity.Mass
	for _, l := range s.Lines {
		if l.Role == Meat {
			sum = sum.Plus(l.OnScale())
		}
	}
	return sum
}

// Batch returns the mass of everything mixed as weighed, with the middle of
// the range for what is spooned.
func (s Sheet) Batch() quantity.Mass {
	var sum quantity.Mass
	for _, l := range s.Lines {
		sum = sum.Plus(l.OnScale())
	}
	return sum
}

// BatchRange returns the least and the most that the batch may weigh.
func (s Sheet) BatchRange() quantity.Between[quantity.Mass] {
	var sum quantity.Between[quantity.Mass]
	for _, l := range s.Lines {
		sum.Low, sum.High = sum.Low.Plus(l.Range.Low), sum.High.Plus(l.Range.High)
	}
	return sum
}

// AsAsked returns the sheet with the additions as the rates ask for them, before
// rounding, on the meat as weighed: that is what they were dosed on.
func (s Sheet) AsAsked() Sheet {
	s.Lines = slices.Clone(s.Lines)
	for i := range s.Lines {
		s.Lines[i].Range = s.Lines[i].AsAsked()
	}
	return s
}

// AsAsked returns the mass that the rate asks for, before rounding; of meat the
// mass as weighed, and of a spooned powder what the spoons may hold.
func (l *Line) AsAsked() quantity.Between[quantity.Mass] {
	if l.Role == Meat || l.Spooned() {
		return l.Range
	}
	return quantity.Exactly(l.Exact)
}

// Stuffed returns what of the batch is stuffed and hung: all but the stuffing
// loss.
func (s Sheet) Stuffed() quantity.Mass { return s.StuffingLoss.Complement().Of(s.Batch()) }

// Finished returns what is left of what was hung after the planned loss, and
// false when no loss is planned.
func (s Sheet) Finished() (quantity.Mass, bool) {
	if s.Loss == nil {
		return quantity.Mass{}, false
	}
	return s.Loss.Complement().Of(s.Stuffed()), true
}

// Scale returns the weigh sheet of an order.
//
// The parts are rounded first; each addition is then dosed on the meat as
// weighed, so that rounding the meat down can't lift a dose on it. Cures and
// accelerators round down, cultures up, all else to the nearest division; a part
// of which only so much is on hand rounds down. A dose with a ceiling or a floor
// that is a share of the batch is held to the batch as weighed.
//
// It returns the faults of Formula.Check, and a fault.Invalid with paths from
// the order down when a finished mass is wanted without a planned loss, a
// division is nothing, a scale takes no load, casings are shorter than their
// ends, or no meat is left after rounding.
func Scale(o Order) (Sheet, error) {
	var bad fault.Collector
	bad.AddError(fault.At("formula"), "invalid-value", o.Formula.Check())
	scale := o.Scale
	switch {
	case len(o.Scales) > 0:
		var err error
		scale, err = o.Scales.Divisions()
		bad.AddError(fault.At("scales"), "invalid-value", err)
	case len(scale) == 0:
		scale = DefaultScale()
	}
	for i, r := range scale {
		if r.Division.IsZero() && len(o.Scales) == 0 {
			bad.Add(fault.At("scale", i, "division"), "minimum", "a division must be more than nothing")
		}
	}
	if !o.Amount.Finished.IsZero() && o.Formula.Plan.Loss == nil {
		bad.Add(fault.At("formula", "plan", "loss_percent"), "required", "a finished mass can't be scaled to without a planned loss")
	}
	if o.Amount.Casings != nil {
		bad.AddError(fault.At("amount", "casings"), "invalid-value", o.Amount.Casings.check())
	}
	if o.Amount.OnHand != nil {
		bad.AddError(fault.At("amount", "on_hand"), "invalid-value", o.Amount.OnHand.check(len(o.Formula.Parts)))
	}
	if o.Amount.StuffingLoss.Complement().IsZero() {
		bad.Add(fault.At("amount", "stuffing_loss_percent"), "maximum", "nothing of the batch is stuffed")
	}
	if err := bad.Err("invalid-value", "the order can't be scaled as it stands"); err != nil {
		return Sheet{}, err
	}
	return weigh(o, scale)
}

func weigh(o Order, scale Divisions) (Sheet, error) {
	s := Sheet{Scale: scale, Scales: o.Scales, Loss: o.Formula.Plan.Loss, StuffingLoss: o.Amount.StuffingLoss}
	s.Lines = make([]Line, 0, len(o.Formula.Parts)+len(o.Formula.Additions)+1) // one more for the water of a culture
	meat, err := meatFor(o)
	if err != nil {
		return Sheet{}, err
	}
	if err := s.addParts(o.Formula, meat, o.Amount.OnHand); err != nil {
		return Sheet{}, err
	}
	if s.Meat().IsZero() {
		return Sheet{}, &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: "nothing is left to weigh", Violations: []fault.Violation{{
			Path: fault.At("amount"), Code: "minimum", Detail: fmt.Sprintf("%s of meat is less than half a division of the scale", meat),
		}}}
	}
	if err := s.addAdditions(o.Formula); err != nil {
		return Sheet{}, err
	}
	if err := s.settle(); err != nil {
		return Sheet{}, err
	}
	slices.SortStableFunc(s.Lines, func(a, b Line) int { return cmp.Compare(order(a), order(b)) })
	s.remark()
	return s, nil
}

// order puts the water before the culture that it wakes; everything else in
// the order of its role.
func order(l Line) int {
	if l.Role == RehydrationWater {
		return int(Culture)*2 - 1
	}
	return int(l.Role) * 2
}

// meatFor returns the meat block of an order, before rounding.
func meatFor(o Order) (quantity.Mass, error) {
	batch := o.Amount.Batch
	switch {
	case !o.Amount.Meat.IsZero():
		return o.Amount.Meat, nil
	case o.Amount.OnHand != nil:
		return o.Amount.OnHand.meat(o.Formula)
	case o.Amount.Casings != nil:
		held, err := o.Amount.Casings.hold(o.Formula)
		if err != nil {
			return quantity.Mass{}, err
		}
		if batch, err = held.DividedBy(o.Amount.StuffingLoss.Complement().Ratio()); err != nil {
			return quantity.Mass{}, fmt.Errorf("batch for casings at a loss of %s: %w", o.Amount.StuffingLoss, err)
		}
	case !o.Amount.Finished.IsZero():
		stuffed, err := o.Amount.Finished.DividedBy(o.Formula.Plan.Loss.Complement().Ratio())
		if err != nil {
			return quantity.Mass{}, fmt.Errorf("batch for a finished mass at a loss of %s: %w", o.Formula.Plan.Loss, err)
		}
		if batch, err = stuffed.DividedBy(o.Amount.StuffingLoss.Complement().Ratio()); err != nil {
			return quantity.Mass{}, fmt.Errorf("batch for what is stuffed at a loss of %s: %w", o.Amount.StuffingLoss, err)
		}
	}
	unit := quantity.MustGrams(1000)
	onMeat, left, err := o.Formula.rates(unit)
	if err != nil {
		return quantity.Mass{}, err
	}
	made, err := unit.Plus(onMeat).Over(left.Of(unit))
	if err != nil {
		return quantity.Mass{}, fmt.Errorf("batch for a meat block: %w", err)
	}
	return batch.DividedBy(made)
}

// rates returns what the rates on meat add to a meat block, spooned powders at
// the middle of their range, and the part of the batch that the rates on batch
// leave.
func (f Formula) rates(meat quantity.Mass) (onMeat quantity.Mass, left quantity.Ratio, err error) {
	share := 0.0
	add := func(r Rate, density quantity.Between[quantity.Density]) error {
		mass, err := r.forMeat(meat, density)
		onMeat = onMeat.Plus(middle(mass))
		share += r.ofBatch().Float()
		return err
	}
	for _, a := range f.Additions {
		if err := add(a.Rate, a.density()); err != nil {
			return onMeat, left, fmt.Errorf("rate of %s: %w", a.Name, err)
		}
		if a.RehydrationWater == nil {
			continue
		}
		if err := add(*a.RehydrationWater, material.Water().BulkDensity); err != nil {
			return onMeat, left, fmt.Errorf("water for %s: %w", a.Name, err)
		}
	}
	left, err = quantity.NewRatio(1 - share)
	return onMeat, left, err
}

func middle(m quantity.Between[quantity.Mass]) quantity.Mass {
	return m.Low.Plus(m.High).Times(quantity.MustRatio(0.5))
}

// whole returns what the shares of the parts sum to, by which each is divided.
func (f Formula) whole() float64 {
	sum := 0.0
	for _, p := range f.Parts {
		sum += p.Share.Float()
	}
	return sum
}

func (s *Sheet) addParts(f Formula, meat quantity.Mass, onHand *OnHand) error {
	sum := f.whole()
	for i, p := range f.Parts {
		share, err := quantity.NewRatio(p.Share.Float() / sum)
		if err != nil {
			return fmt.Errorf("share of %s: %w", p.Name, err)
		}
		direction := Meat.rounding()
		if onHand.has(i) {
			direction = quantity.Down
		}
		l, err := Line{
			Member: fault.At("parts", i), Name: p.Name, Role: Meat, Part: &f.Parts[i],
		}.Weighing(share.Of(meat), s.Scale, direction)
		if err != nil {
			return fmt.Errorf("round %s: %w", p.Name, err)
		}
		s.Lines = append(s.Lines, l)
	}
	return nil
}

func (s *Sheet) addAdditions(f Formula) error {
	meat := s.Meat()
	onMeat, left, err := f.rates(meat)
	if err != nil {
		return err
	}
	batch, err := meat.Plus(onMeat).DividedBy(left)
	if err != nil {
		return fmt.Errorf("batch for the meat: %w", err)
	}
	for i, a := range f.Additions {
		addition := &f.Additions[i]
		l := Line{Member: fault.At("additions", i), Name: a.Name, Role: a.Role, Addition: addition, Asked: a.Rate}
		if err := s.add(l, a.Rate, a.density(), meat, batch); err != nil {
			return err
		}
		if a.RehydrationWater == nil {
			continue
		}
		w := Line{
			Member: fault.At("additions", i, "rehydration_water"), Name: waterFor(a.Name), Role: RehydrationWater,
			Addition: addition, Asked: *a.RehydrationWater,
		}
		if err := s.add(w, *a.RehydrationWater, material.Water().BulkDensity, meat, batch); err != nil {
			return err
		}
	}
	return nil
}

func (s *Sheet) add(l Line, rate Rate, density quantity.Between[quantity.Density], meat, batch quantity.Mass) error {
	mass, err := rate.forMeat(meat, density)
	if err != nil {
		return fmt.Errorf("rate of %s: %w", l.Name, err)
	}
	if share := rate.ofBatch(); !share.IsZero() {
		mass = quantity.Exactly(share.Of(batch))
	}
	if rate.byVolume() && spread(density) {
		l.Exact, l.Range = middle(mass), mass
		if l.Spoons, err = rate.volumeFor(meat); err != nil {
			return fmt.Errorf("spoons of %s: %w", l.Name, err)
		}
		s.Lines = append(s.Lines, l)
		return nil
	}
	if l, err = l.Weighing(middle(mass), s.Scale, l.Role.rounding()); err != nil {
		return fmt.Errorf("round %s: %w", l.Name, err)
	}
	s.Lines = append(s.Lines, l)
	return nil
}

// settle holds doses that are a share of the batch to the batch as weighed: it
// takes divisions off those with a ceiling, and adds divisions to those with a
// floor, where rounding has left the batch lighter or heavier than they were
// reckoned on. Of the batch less itself, R, a dose of share g is g R / (1 - g).
//
// The former only ever lose divisions and the latter only ever gain some, so it
// comes to an end; it stops after mostRounds rounds in any case.
func (s *Sheet) settle() error {
	const mostRounds = 100
	for range mostRounds {
		moved := false
		for i := range s.Lines {
			l := &s.Lines[i]
			share, direction := l.Asked.ofBatch(), l.Role.rounding()
			if share.IsZero() || direction == quantity.ToNearest || l.Spooned() {
				continue
			}
			rest, err := s.Batch().Minus(l.OnScale()).DividedBy(share.Complement().Ratio())
			if err != nil {
				return fmt.Errorf("rest of the batch beside %s: %w", l.Name, err)
			}
			rounded, steps, err := share.Of(rest).RoundTo(l.Division, direction)
			if err != nil {
				return fmt.Errorf("round %s: %w", l.Name, err)
			}
			if direction == quantity.Down && steps < l.Steps || direction == quantity.Up && steps > l.Steps {
				l.Range, l.Steps, moved = quantity.Exactly(rounded), steps, true
			}
		}
		if !moved {
			return nil
		}
	}
	return nil
}

// spread reports whether a density is so uncertain that a volume is no way to
// weigh: more than 2 % between its ends, a choice of this project. The densities
// of water and of table wine are known better than that.
func spread(d quantity.Between[quantity.Density]) bool {
	const most = 1.02
	return d.High.GramsPerMillilitre() > most*d.Low.GramsPerMillilitre()
}

// coarse is how far rounding may move a weight before it is remarked on, and
// fewDivisions how many divisions of the scale a weight should be at least.
// Common practice, no source.
const (
	coarse       = 0.05
	fewDivisions = 5
)

// remark writes what the maker should know of the sheet itself.
func (s *Sheet) remark() {
	var addedWater quantity.Mass
	for _, l := range s.Lines {
		s.remarkOn(l)
		if l.Role == RehydrationWater {
			addedWater = addedWater.Plus(l.OnScale())
		}
	}
	if share, err := addedWater.Over(s.Meat()); err == nil && !addedWater.IsZero() {
		s.Notes = append(s.Notes, finding.Note{
			Code: "added-water",
			Text: fmt.Sprintf("the water for the culture adds %.3g percent to the meat, and has to dry out again", share.Percent()), AsWritten: true,
		})
	}
}

func (s *Sheet) remarkOn(l Line) {
	none := source.Citation{}
	if l.Role == RehydrationWater {
		s.note("rehydrate", l, source.CommonPractice("rehydrate a freeze-dried culture for 20 to 30 minutes"),
			"let %s stand in this water for 20 to 30 minutes before mixing; water without chlorine", l.Addition.Name)
	}
	moved, err := l.OnScale().Minus(l.Exact).Over(l.Exact)
	switch {
	case l.Spooned():
		s.note("spooned", l, l.SpoonSource(), "%s by the spoon weighs from %s to %s; weighing %s is surer",
			l.Name, rough(l.Range.Low), rough(l.Range.High), rough(l.Exact))
		return
	case l.Steps == 0 && !l.Exact.IsZero():
		s.note("under-a-division", l, none, "%s comes to %s, which the scale with a division of %s can't weigh: use a finer scale or make more",
			l.Name, rough(l.Exact), rough(l.Division))
	case err == nil && (moved.Float() > coarse || moved.Float() < -coarse):
		s.note("coarse-rounding", l, none, "%s comes to %s and is rounded to %s, %+.0f percent: use a finer scale or make more",
			l.Name, l.Exact, l.OnScale(), moved.Percent())
	case l.Steps > 0 && l.Steps < fewDivisions:
		s.note("few-divisions", l, source.CommonPractice("a weight should be at least five divisions of the scale"),
			"%s is %s, and one division of the scale more or less is %.0f percent of it", l.Name, l.OnScale(), 100/float64(l.Steps))
	}
	if last := s.Scale[len(s.Scale)-1].UpTo; !last.IsZero() && last.Less(l.OnScale()) {
		s.note("over-capacity", l, none, "%s is more than the scale takes at once (%s): weigh it in portions", l.Name, last)
	}
}

// rough returns a mass to a hundredth of a gram, or of a milligram when it is
// less than that.
func rough(m quantity.Mass) quantity.Mass {
	for _, step := range []float64{0.01, 0.00001} {
		if r, steps, err := m.RoundTo(quantity.MustGrams(step), quantity.ToNearest); err == nil && steps > 0 {
			return r
		}
	}
	return m
}

func (s *Sheet) note(code string, l Line, from source.Citation, format string, args ...any) {
	s.Notes = append(s.Notes, finding.Note{
		Code: code, Member: l.Member, Text: fmt.Sprintf(format, args...), Source: from, AsWritten: l.Spooned() || l.Role == RehydrationWater && code == "rehydrate",
	})
}
