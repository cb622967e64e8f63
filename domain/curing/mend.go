package curing

import (
	"slices"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// mender looks for weights that keep a set of rules. It changes copies of the
// sheet it is given.
type mender struct {
	rules []*rule // those that are judged by an amount and known to be for the product
}

// menderFor returns the mender for the rules of some rulebooks and of the
// trade.
func (q question) menderFor(rulebooks []rulebook.Jurisdiction) mender {
	judged := q.saltJudged()
	for _, j := range rulebooks {
		judged = append(judged, q.judgeAll(j)...)
	}
	var m mender
	for _, x := range judged {
		if x.binding {
			m.rules = append(m.rules, x.rule)
		}
	}
	return m
}

// those returns the rules that want is true of.
func (m mender) those(want func(*rule) bool) []*rule {
	return slices.DeleteFunc(slices.Clone(m.rules), func(r *rule) bool { return !want(r) })
}

func cureCeiling(r *rule) bool { return r.ofCure() && r.ceiling() }

func cureFloor(r *rule) bool { return r.ofCure() && r.floor() }

func saltRule(r *rule) bool { return r.row.Agent == rulebook.Salt }

func acidCeiling(r *rule) bool { return !r.ofCure() && !saltRule(r) && r.ceiling() }

// beforeMixing returns the sheet with other weights, as far as changing weights
// keeps the rules; with the cures as they are when they are not to be changed.
func (m mender) beforeMixing(s formula.Sheet, cures bool) formula.Sheet {
	if cures {
		s = m.raiseCures(m.lowerCures(s))
		s = m.require(s, (*rule).ofCure)
	}
	s = m.lowerAcids(s)
	s = m.require(s, func(r *rule) bool { return !r.ofCure() })
	s = m.salt(s)
	s = sweeten(s)
	s = raiseCultures(s)
	if cures {
		// What was added or taken moves the batch, on which some ceilings count;
		// once more takes what is left of that.
		s = m.lowerCures(s)
		s = m.require(s, (*rule).ofCure)
	}
	return s
}

// require weighs what brings a required amount so that it comes to that amount,
// where the scale can weigh it and no ceiling is exceeded.
func (m mender) require(s formula.Sheet, which func(*rule) bool) formula.Sheet {
	for _, r := range m.those(func(r *rule) bool { return r.required() && which(r) }) {
		if c, ok := m.dose(s, r); ok && keptAll(c, m.those(cureCeiling)) && len(hazards(c)) == 0 {
			s = c
		}
	}
	return s
}

// dose returns the sheet with a required amount, and false when it has it
// already, or when no weight does. What is weighed moves the base a little, so
// that it takes a few steps.
func (m mender) dose(s formula.Sheet, r *rule) (formula.Sheet, bool) {
	const steps = 6
	if r.kept(s) {
		return s, false
	}
	lines := func(l formula.Line) bool {
		c, ok := contentOf(&l, r.row.Agent, rulebook.AsAdded)
		return ok && !c.isZero()
	}
	from, k := s, 1.0
	for range steps {
		d := r.demand(&s)
		in, ok := IngoingOf(s, r.row.Agent, d.species, r.row.Base)
		middle := (in.Amount.Low.MilligramsPerKilogram() + in.Amount.High.MilligramsPerKilogram()) / 2
		if !ok || middle == 0 || d.missing != "" {
			return s, false
		}
		k *= d.limit.MilligramsPerKilogram() / middle
		changed, ok := withSaltOf(from, rescale(from, lines, k, quantity.ToNearest, 1))
		if !ok {
			return s, false
		}
		if s = changed; r.kept(s) {
			return s, true
		}
	}
	return s, false
}

// bisections halve the interval of a factor until it is far narrower than a
// division of any scale: 2^-40 of it.
const bisections = 40

// nearest returns the sheet for the factor nearest to bad that is kept, coming
// from good, and false when not even good is kept. It takes for granted that
// what is kept at a factor is kept between it and good, up to rounding.
func nearest(good, bad float64, at func(k float64) (formula.Sheet, bool)) (formula.Sheet, bool) {
	best, ok := at(good)
	if !ok {
		return best, false
	}
	for range bisections {
		middle := (good + bad) / 2
		if s, ok := at(middle); ok {
			best, good = s, middle
		} else {
			bad = middle
		}
	}
	return best, true
}

// lowerCures weighs less of the cures, replacing their salt by plain salt, until
// no ceiling on nitrite or nitrate is exceeded. No cure is taken out whole: that
// a scale can't weigh so little of it is no remedy. Cures that bring nitrate
// alone are lowered first when nitrate is what exceeds.
func (m mender) lowerCures(s formula.Sheet) formula.Sheet {
	for _, step := range []struct {
		agents []rulebook.Agent
		lines  func(formula.Line) bool
	}{
		{
			[]rulebook.Agent{rulebook.Nitrate, rulebook.NitriteAndNitrate},
			func(l formula.Line) bool { return brings(l, rulebook.Nitrate) && !brings(l, rulebook.Nitrite) },
		},
		{[]rulebook.Agent{rulebook.Nitrate}, func(l formula.Line) bool { return brings(l, rulebook.Nitrate) }},
		{[]rulebook.Agent{rulebook.Nitrite, rulebook.NitriteAndNitrate}, func(l formula.Line) bool { return l.Role == formula.Cure }},
	} {
		ceilings := m.those(func(r *rule) bool { return cureCeiling(r) && slices.Contains(step.agents, r.row.Agent) })
		if keptAll(s, ceilings) || !slices.ContainsFunc(s.Lines, step.lines) {
			continue
		}
		lower := func(k float64) (formula.Sheet, bool) {
			c, ok := withSaltOf(s, rescale(s, step.lines, k, quantity.Down, 1))
			return c, ok && keptAll(c, ceilings)
		}
		if c, ok := nearest(0, 1, lower); ok {
			s = fill(s, c, step.lines, ceilings)
		}
	}
	return s
}

// fill puts a division back into each of the cures that allow it, where
// rounding several down at once took more than the ceilings ask for.
func fill(from, to formula.Sheet, lines func(formula.Line) bool, ceilings []*rule) formula.Sheet {
	for i, l := range to.Lines {
		if !lines(l) || l.Spooned() {
			continue
		}
		l, err := l.Weighing(l.OnScale().Plus(l.Division), to.Scale, quantity.Down)
		if err != nil || from.Lines[i].OnScale().Less(l.OnScale()) {
			continue
		}
		more := to
		more.Lines = slices.Clone(to.Lines)
		more.Lines[i] = l
		if c, ok := withSaltOf(from, more); ok && keptAll(c, ceilings) {
			to = c
		}
	}
	return to
}

// raiseCures weighs more of the cures up to the floors that they miss, unless
// that exceeds a ceiling.
func (m mender) raiseCures(s formula.Sheet) formula.Sheet {
	for _, floor := range m.those(cureFloor) {
		if floor.kept(s) {
			continue
		}
		lines := func(l formula.Line) bool { return brings(l, floor.row.Agent) }
		const most = 100.0
		raised, ok := nearest(most, 1, func(k float64) (formula.Sheet, bool) {
			c, ok := withSaltOf(s, rescale(s, lines, k, quantity.Up, 0))
			return c, ok && floor.kept(c)
		})
		if ok && keptAll(raised, m.those(cureCeiling)) && len(hazards(raised)) == 0 {
			s = raised
		}
	}
	return s
}

// lowerAcids weighs less of the accelerators and acidulants down to the
// ceilings that they exceed.
func (m mender) lowerAcids(s formula.Sheet) formula.Sheet {
	for _, r := range m.those(acidCeiling) {
		if r.kept(s) {
			continue
		}
		lines := func(l formula.Line) bool {
			c, ok := contentOf(&l, r.row.Agent, r.row.Species)
			return ok && !c.isZero()
		}
		if c, ok := nearest(0, 1, func(k float64) (formula.Sheet, bool) {
			c := rescale(s, lines, k, quantity.Down, 0)
			return c, r.kept(c)
		}); ok {
			s = c
		}
	}
	return s
}

// salt changes the plain salt until it keeps the rules on salt; what was to be
// spooned is weighed.
func (m mender) salt(s formula.Sheet) formula.Sheet {
	rules := m.those(saltRule)
	if keptAll(s, rules) {
		return s
	}
	s = rescale(s, isPlainSalt, 1, quantity.ToNearest, 0)
	for _, r := range rules {
		if change, direction, ok := saltMissing(s, r); ok {
			if c, ok := addSalt(s, change, direction); ok {
				s = c
			}
		}
	}
	return s
}

// saltMissing returns what a rule on salt in the meat block asks to add, or to
// take away, and false when it is kept.
func saltMissing(s formula.Sheet, r *rule) (quantity.Mass, quantity.RoundDirection, bool) {
	limit, known := r.row.Value.PPM()
	in, ok := IngoingOf(s, r.row.Agent, r.row.Species, rulebook.MeatBlock)
	if !known || !ok || r.row.Base != rulebook.MeatBlock || r.kept(s) {
		return quantity.Mass{}, quantity.ToNearest, false
	}
	if r.ceiling() {
		return limit.Of(s.Meat()).Minus(in.Amount.High.Of(s.Meat())), quantity.Down, true
	}
	return limit.Of(s.Meat()).Minus(in.Amount.Low.Of(s.Meat())), quantity.Up, true
}

// sweeten weighs the sugar of a formula with a culture up or down to what the
// trade uses, and weighs what was to be spooned; a sheet without any gets a line
// of dextrose.
func sweeten(s formula.Sheet) formula.Sheet {
	if f := (question{sheet: s}).sugar(); f.Status != finding.NotMet && f.Status != finding.Near {
		return s
	}
	s = rescale(s, isSugar, 1, quantity.ToNearest, 0)
	in, _, _ := fermentable(s)
	if in.Amount.High.Compare(sugarCeiling) > 0 {
		less, _ := nearest(0, 1, func(k float64) (formula.Sheet, bool) {
			c := rescale(s, isSugar, k, quantity.Down, 0)
			in, _, _ := fermentable(c)
			return c, in.Amount.High.Compare(sugarCeiling) <= 0
		})
		return less
	}
	if in.Amount.Low.Compare(sugarFloor) >= 0 {
		return s
	}
	i := slices.IndexFunc(s.Lines, isSugar)
	if i < 0 {
		m, ok := dextrose()
		if !ok {
			return s
		}
		s.Lines = append(s.Lines, newLine(s, "Dextrose, monohydrate", formula.Sugar, m))
		i = len(s.Lines) - 1
	}
	fraction, _ := sugarOf(s.Lines[i])
	extra, err := sugarFloor.Of(s.Meat()).Minus(in.Amount.Low.Of(s.Meat())).DividedBy(fraction.Ratio())
	if err != nil {
		return s
	}
	if l, err := s.Lines[i].Weighing(s.Lines[i].OnScale().Plus(extra), s.Scale, quantity.Up); err == nil {
		s.Lines[i] = l
	}
	return s
}

// isSugar reports whether a line is mostly fermentable sugar.
func isSugar(l formula.Line) bool {
	const most = 0.5
	f, ok := sugarOf(l)
	return ok && f.Float() > most
}

// raiseCultures weighs each culture up to the dose that it was found to miss.
func raiseCultures(s formula.Sheet) formula.Sheet {
	for i, l := range s.Lines {
		if l.Role != formula.Culture {
			continue
		}
		f, wanted := cultureDose(s, l, true)
		if f.Status != finding.NotMet && f.Status != finding.Near {
			continue
		}
		if weighed, err := l.Weighing(wanted, s.Scale, quantity.Up); err == nil {
			s.Lines = slices.Clone(s.Lines)
			s.Lines[i] = weighed
		}
	}
	return s
}

// afterMixing returns the sheet with the least meat added that brings
// everything under its ceilings: with it come, at the rates of the formula, all
// but the cures and what exceeds, and the salt that a floor asks for. It reports
// false when no ceiling is exceeded, or fifty times the meat does not do it.
func (m mender) afterMixing(s formula.Sheet) (formula.Sheet, bool) {
	ceilings := m.those((*rule).ceiling)
	if keptAll(s, ceilings) {
		return s, false
	}
	exceeded := slices.DeleteFunc(slices.Clone(ceilings), func(r *rule) bool { return r.kept(s) })
	exceeds := func(l formula.Line) bool {
		return slices.ContainsFunc(exceeded, func(r *rule) bool {
			c, ok := contentOf(&l, r.row.Agent, r.row.Species)
			return ok && !c.isZero()
		})
	}
	stays := func(l formula.Line) bool { return l.Role == formula.Cure || isPlainSalt(l) || exceeds(l) }
	const most = 50.0
	return nearest(most, 0, func(k float64) (formula.Sheet, bool) {
		c, ok := topUp(s, k, stays)
		if !ok {
			return c, false
		}
		if c, ok = m.topUpSalt(s, c, k, exceeds); !ok {
			return c, false
		}
		return c, keptAll(c, ceilings)
	})
}

// topUpSalt adds plain salt to what is mixed, in one weighing: for the meat that
// was added, at the rate there was, unless the salt exceeds, and more where a
// floor asks for it.
func (m mender) topUpSalt(from, to formula.Sheet, k float64, exceeds func(formula.Line) bool) (formula.Sheet, bool) {
	var atRate quantity.Mass
	factor, err := quantity.NewRatio(k)
	if err != nil {
		return to, false
	}
	for _, l := range from.Lines {
		if isPlainSalt(l) && !exceeds(l) {
			atRate = atRate.Plus(l.OnScale().Times(factor))
		}
	}
	c, ok := saltOnTop(to, atRate, quantity.ToNearest)
	if !ok {
		return to, false
	}
	for _, r := range m.those(saltRule) {
		if change, _, missing := saltMissing(c, r); missing && !r.ceiling() {
			added := saltOf(c).Minus(saltOf(to))
			if c, ok = saltOnTop(to, added.Plus(change), quantity.Up); !ok {
				return to, false
			}
		}
	}
	return c, true
}

// saltOnTop adds a weight of plain salt to what is mixed, rounded to the scale
// on its own.
func saltOnTop(s formula.Sheet, extra quantity.Mass, direction quantity.RoundDirection) (formula.Sheet, bool) {
	extra, _, err := extra.RoundTo(s.Scale.Division(extra), direction)
	if err != nil {
		return s, false
	}
	if extra.IsZero() {
		return s, true
	}
	s, i, ok := withPlainSalt(s)
	if ok {
		s.Lines[i] = onTop(s.Lines[i], extra)
	}
	return s, ok
}

// topUp returns the sheet with k times as much again of the lines that do not
// stay as they are, weighed; what was spooned keeps its range.
func topUp(s formula.Sheet, k float64, stays func(formula.Line) bool) (formula.Sheet, bool) {
	factor, err := quantity.NewRatio(k)
	if err != nil {
		return s, false
	}
	s.Lines = slices.Clone(s.Lines)
	for i, l := range s.Lines {
		if stays(l) {
			continue
		}
		direction := l.Rounding()
		if l.Role == formula.Meat {
			direction = quantity.Up
		}
		more, err := l.Weighing(l.OnScale().Times(factor), s.Scale, direction)
		if err != nil {
			return s, false
		}
		s.Lines[i] = onTop(l, more.OnScale())
	}
	return s, true
}

// onTop returns the line with a weight added to what is in the mixture.
func onTop(l formula.Line, extra quantity.Mass) formula.Line {
	l.Exact = l.Exact.Plus(extra)
	l.Range.Low, l.Range.High = l.Range.Low.Plus(extra), l.Range.High.Plus(extra)
	return l
}

// brings reports whether a line is a cure with any of an agent.
func brings(l formula.Line, agent rulebook.Agent) bool {
	c, ok := contentOf(&l, agent, rulebook.AsAdded)
	return l.Role == formula.Cure && ok && !c.isZero()
}

// rescale returns the sheet with k times as much in some lines, weighed, and at
// least so many divisions of what there was any of. A line that can't be
// weighed stays as it is.
func rescale(s formula.Sheet, lines func(formula.Line) bool, k float64, direction quantity.RoundDirection, least int64) formula.Sheet {
	factor, err := quantity.NewRatio(k)
	if err != nil {
		return s
	}
	s.Lines = slices.Clone(s.Lines)
	for i, l := range s.Lines {
		if !lines(l) || l.OnScale().IsZero() {
			continue
		}
		weighed, err := l.Weighing(l.OnScale().Times(factor), s.Scale, direction)
		if err != nil {
			continue
		}
		if weighed.Steps < least {
			if weighed, err = l.Weighing(weighed.Division, s.Scale, quantity.ToNearest); err != nil {
				continue
			}
		}
		s.Lines[i] = weighed
	}
	return s
}

// withSaltOf returns a sheet in which plain salt makes up for the salt that its
// cures bring less, or more, than those of another, so that the salt stays.
func withSaltOf(of, s formula.Sheet) (formula.Sheet, bool) {
	return addSalt(s, saltOf(of).Minus(saltOf(s)), quantity.ToNearest)
}

// saltOf returns the salt of a sheet, the middle of what is known.
func saltOf(s formula.Sheet) quantity.Mass {
	var sum quantity.Mass
	for _, l := range s.Lines {
		c := saltContent(&l)
		if r, err := quantity.NewRatio((c.low + c.high) / 2); err == nil {
			sum = sum.Plus(r.Of(l.OnScale()))
		}
	}
	return sum
}

// isPlainSalt reports whether a line is salt and nothing else, so that a gram of
// it is a gram of salt.
func isPlainSalt(l formula.Line) bool { return l.Role == formula.Salt && saltContent(&l).low == 1 }

// withPlainSalt returns a sheet whose lines can be changed, and the place of its
// plain salt, which is a new line of nothing where there is none.
func withPlainSalt(s formula.Sheet) (formula.Sheet, int, bool) {
	s.Lines = slices.Clone(s.Lines)
	if i := slices.IndexFunc(s.Lines, isPlainSalt); i >= 0 {
		return s, i, true
	}
	plain, ok := material.ByKey("salt-table")
	if !ok {
		return s, 0, false
	}
	s.Lines = append(s.Lines, newLine(s, "Plain salt", formula.Salt, plain))
	return s, len(s.Lines) - 1, true
}

// addSalt weighs more of the plain salt of a sheet, or less, as far as there is
// any. What was to be spooned is weighed then, unless the change is too small for
// the scale to show.
func addSalt(s formula.Sheet, change quantity.Mass, direction quantity.RoundDirection) (formula.Sheet, bool) {
	if !slices.ContainsFunc(s.Lines, isPlainSalt) && !(quantity.Mass{}).Less(change) {
		return s, true // there is none to take out
	}
	s, i, ok := withPlainSalt(s)
	if !ok {
		return s, false
	}
	l := s.Lines[i]
	if _, steps, err := change.RoundTo(s.Scale.Division(l.Exact), direction); l.Spooned() && (err != nil || steps == 0) {
		return s, err == nil
	}
	to := l.OnScale().Plus(change)
	if to.Less(quantity.Mass{}) {
		to = quantity.Mass{}
	}
	weighed, err := l.Weighing(to, s.Scale, direction)
	s.Lines[i] = weighed
	return s, err == nil
}

// newLine returns a line of nothing yet, of what the formula does not have.
func newLine(s formula.Sheet, name string, role formula.Role, m material.Material) formula.Line {
	return formula.Line{
		Name: name, Role: role, Addition: &formula.Addition{Name: name, Role: role, Material: &m},
		Division: s.Scale.Division(quantity.Mass{}),
	}
}
