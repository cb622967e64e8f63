package acidity

import (
	"errors"
	"fmt"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Order asks how sour a formula becomes.
type Order struct {
	Formula formula.Formula
	Meat    quantity.Mass                  // to weigh for; a kilogram when it is nothing
	Start   *quantity.Between[quantity.PH] // of the mixture as it was read; nil takes that of the parts
	Wanted  *quantity.PH                   // nil takes that of the plan
	Culture *[]rulebook.CultureSpecies     // that is added beside those of the formula, with its species if they are stated; nil is none
}

// SugarLine is what one addition brings of a sugar.
type SugarLine struct {
	Member fault.Path
	Name   string
	Sugar  rulebook.Sugar
	OnMeat quantity.Between[quantity.PPM]         // the sugar without its crystal water
	Acid   quantity.Between[quantity.AcidContent] // that it can become, on the meat
	Slow   bool                                   // it may be left, and counts for nothing at the high end of the pH
}

// Contents is lactic acid on three bases.
type Contents struct {
	OnMeat, OnLean, OnBatch quantity.Between[quantity.AcidContent]
}

// Reach is whether a pH can be come to with dextrose. The zero value is invalid.
type Reach int

// The answers.
const (
	Already  Reach = iota + 1 // the mixture begins there
	Can                       // with enough sugar
	Doubtful                  // acid stops about there by itself
	CanNot                    // acid stops before, or nothing makes any
)

// String returns the word used on the wire.
func (r Reach) String() string {
	switch r {
	case Already:
		return "already"
	case Can:
		return "can"
	case Doubtful:
		return "doubtful"
	case CanNot:
		return "cannot"
	default:
		return "unstated"
	}
}

// Dextrose is what to put in by one rule, as the monohydrate of commerce, from
// the least to the most.
type Dextrose struct {
	OnMeat  quantity.Between[quantity.PPM]  // in all
	Mass    quantity.Between[quantity.Mass] // in all, for the meat
	Missing quantity.Between[quantity.Mass] // beside what the formula brings: the least with all of that, the most with what is sure of it
}

// Wanted is what a pH takes.
type Wanted struct {
	PH            quantity.PH
	Reach         Reach
	Because       string
	Stoichiometry Dextrose
	Handbook      Dextrose
}

// Answer is how sour a formula becomes.
type Answer struct {
	Meat, Batch quantity.Mass
	Lean        quantity.Fraction // of the meat
	Start       quantity.Between[quantity.PH]
	StartRead   bool // by a meter, and not as raw meat usually is
	Sours       Sourness
	Sugars      []SugarLine
	Glucose     quantity.Between[quantity.PPM] // that the sugars come to, on the meat: surely, and at most
	Acid        Contents                       // that the sugar and the meat's own can become; less is made where acid stops
	Final       Final
	Handbook    quantity.Between[quantity.PH]
	Wanted      *Wanted
	By          Assumptions
	Notes       []finding.Note
}

// EitherRule returns the lowest and the highest pH that either rule comes to.
func (a Answer) EitherRule() quantity.Between[quantity.PH] {
	return Either(a.Final.Range(), a.Handbook)
}

// Estimate returns how sour a formula becomes. It reports fault.Invalid for what
// formula.Scale refuses, fault.OutsideModel for a whole piece or a pickle, and
// where the fat of the meat is not known or there is no lean.
func Estimate(o Order) (Answer, error) {
	if o.Formula.Pickle != nil || formula.Whole(o.Formula.Product) {
		return Answer{}, outside(fault.At("formula", "product"), "not-mixed", "acid is computed of what is ground and mixed, and a %s is not", o.Formula.Product)
	}
	if o.Meat.IsZero() {
		o.Meat = quantity.MustGrams(1000)
	}
	const fine = 1e-13 // of the meat: nothing is rounded that anybody sees, and no count of divisions overflows
	s, err := formula.Scale(formula.Order{
		Formula: o.Formula, Amount: formula.Amount{Meat: o.Meat}, Scale: formula.Divisions{{Division: o.Meat.Times(quantity.MustRatio(fine))}},
	})
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Meat: s.Meat(), Batch: s.Batch(), Start: StartOf(o.Formula), By: Usual(), Sours: SournessOf(&s), Wanted: nil}
	a.StartRead = o.Start != nil || everyPartRead(o.Formula)
	if o.Start != nil {
		a.Start = *o.Start
	}
	if o.Culture != nil {
		a.Sours = max(a.Sours, sournessOf(*o.Culture))
	}
	lean, known := LeanOf(&s)
	if !known || lean.IsZero() {
		return Answer{}, outside(fault.At("formula", "parts"), "lean-unknown", "how much acid the lean takes can't be told: the fat of the meat is not known, or it is all fat")
	}
	a.Lean = lean
	g, err := a.ground(&s, o)
	if err != nil {
		return Answer{}, err
	}
	if a.Final, err = FinalPH(g, a.By); err != nil {
		return Answer{}, err
	}
	if a.Handbook, err = ByHandbook(g, a.By); err != nil {
		return Answer{}, err
	}
	if a.unknownSugar() && a.Sours.Sours() {
		a.Final.Low.PH, a.Final.Low.Limit = lower(a.By.Stop.Low, a.Start.Low), UnknownMix
		a.Handbook.Low = a.Final.Low.PH
	}
	if err := a.fillAcid(); err != nil {
		return Answer{}, err
	}
	wanted := o.Wanted
	if wanted == nil {
		wanted = o.Formula.Plan.WantedPH
	}
	if wanted != nil {
		if a.Wanted, err = a.want(*wanted); err != nil {
			return Answer{}, err
		}
	}
	a.remark(&s)
	return a, nil
}

func outside(at fault.Path, code, format string, args ...any) error {
	detail := fmt.Sprintf(format, args...)
	return &fault.Error{Kind: fault.OutsideModel, Code: code, Detail: detail, Violations: []fault.Violation{{Path: at, Code: code, Detail: detail}}}
}

func everyPartRead(f formula.Formula) bool {
	return !slices.ContainsFunc(f.Parts, func(p formula.Part) bool {
		_, known := p.Received.PH.Get()
		return !known && !p.Share.IsZero()
	})
}

// ground counts the sugars.
func (a *Answer) ground(s *formula.Sheet, o Order) (Ground, error) {
	var sours []rulebook.CultureSpecies
	unstated := false
	gather := func(species []rulebook.CultureSpecies) {
		unstated = unstated || len(species) == 0
		for _, of := range species {
			if of.Acidifies {
				sours = append(sours, of)
			}
		}
	}
	if o.Culture != nil {
		gather(*o.Culture)
	}
	for i := range s.Lines {
		if l := &s.Lines[i]; l.Role == formula.Culture && l.Addition != nil {
			gather(l.Addition.Species)
		}
	}
	if unstated {
		sours = nil // it may use what the others leave
	}
	var low, high float64
	for i := range s.Lines {
		l := &s.Lines[i]
		if _, known := sugarOf(l); !known && !l.Range.High.IsZero() {
			a.note("sugar-unknown", l.Member, source.Citation{}, "what %s brings of sugar is not known: there may be more acid than is counted", l.Name)
		}
		line, ok, err := sugarIn(l, a.Meat, sours)
		if err != nil {
			return Ground{}, err
		}
		if !ok {
			continue
		}
		a.Sugars = append(a.Sugars, line)
		as := asGlucose(line.Sugar)
		high += line.OnMeat.High.GramsPerKilogram() * as.High
		if !line.Slow {
			low += line.OnMeat.Low.GramsPerKilogram() * as.Low
		}
	}
	a.Glucose = quantity.Between[quantity.PPM]{Low: gramsPerKilogram(low), High: gramsPerKilogram(high)}
	return Ground{Sugar: a.Glucose, Lean: a.Lean, Start: a.Start, Sour: a.Sours.Sours()}, nil
}

// sugarOf returns the mass fraction of sugar in what a line of a sheet brings,
// lactose within, and false when that is not known. What is in a culture
// or a cure counts as none, and so does what is in a spice without a figure.
func sugarOf(l *formula.Line) (sugar quantity.Fraction, known bool) {
	switch {
	case l.Role == formula.Meat || l.Role == formula.RehydrationWater || l.Role == formula.Culture || l.Addition == nil || l.Addition.Cure != nil:
		return quantity.Fraction{}, true
	case l.Addition.Material == nil:
		return quantity.Fraction{}, !l.Addition.Unknown()
	default:
		sugar, known = l.Addition.Material.Composition.Sugars.Get()
		return sugar, known || l.Role == formula.Spice
	}
}

func sugarIn(l *formula.Line, meat quantity.Mass, sours []rulebook.CultureSpecies) (SugarLine, bool, error) {
	share, _ := sugarOf(l)
	if share.IsZero() || l.Range.High.IsZero() {
		return SugarLine{}, false, nil
	}
	line := SugarLine{Member: l.Member, Name: l.Name, Sugar: SugarOf(*l.Addition.Material)}
	line.Slow = slowOn(line.Sugar, sours)
	as, by := asGlucose(line.Sugar), usual.Efficiency
	end := func(m quantity.Mass, glucose float64, efficiency quantity.Fraction) (quantity.PPM, quantity.AcidContent, error) {
		part, err := share.Of(m).Over(meat)
		if err != nil {
			return quantity.PPM{}, quantity.AcidContent{}, err
		}
		on, err := part.PPM()
		if err != nil {
			return quantity.PPM{}, quantity.AcidContent{}, err
		}
		acid, err := LacticAcid(gramsPerKilogram(on.GramsPerKilogram()*glucose), efficiency)
		return on, acid, err
	}
	var err error
	if line.OnMeat.Low, line.Acid.Low, err = end(l.Range.Low, as.Low, by.Low); err != nil {
		return SugarLine{}, false, err
	}
	if line.OnMeat.High, line.Acid.High, err = end(l.Range.High, as.High, by.High); err != nil {
		return SugarLine{}, false, err
	}
	if line.Slow {
		line.Acid.Low = quantity.AcidContent{}
	}
	return line, true, nil
}

// fillAcid turns the acid on the meat into that on the lean and on the batch.
func (a *Answer) fillAcid() error {
	onMeat := quantity.Between[quantity.AcidContent]{Low: a.Final.High.Acid, High: a.Final.Low.Acid}
	whole := quantity.MustRatio(1)
	perLean, err := quantity.NewRatio(whole.Float() / a.Lean.Float())
	if err != nil {
		return fmt.Errorf("acid on the lean: %w", err)
	}
	perBatch, err := a.Meat.Over(a.Batch)
	if err != nil {
		return fmt.Errorf("acid on the batch: %w", err)
	}
	times := func(k quantity.Ratio) quantity.Between[quantity.AcidContent] {
		return quantity.Between[quantity.AcidContent]{Low: onMeat.Low.Times(k), High: onMeat.High.Times(k)}
	}
	a.Acid = Contents{OnMeat: onMeat, OnLean: times(perLean), OnBatch: times(perBatch)}
	return nil
}

func (a *Answer) want(wanted quantity.PH) (*Wanted, error) {
	w := &Wanted{PH: wanted}
	need := NeedFor(wanted, a.Lean, a.Start, a.By)
	switch {
	case a.Start.High.Compare(wanted) <= 0:
		w.Reach, w.Because = Already, fmt.Sprintf("the mixture begins at %s at most", a.Start.High)
	case !a.Sours.Sours():
		w.Reach, w.Because = CanNot, "nothing is added that makes acid of sugar: add a culture of a species that does (see /v1/reference/cultures); sugar alone does nothing"
	case wanted.Compare(a.By.Stop.Low) < 0:
		w.Reach, w.Because = CanNot, fmt.Sprintf("acid stops before, at about pH %.2g to %.2g, whatever sugar is left", a.By.Stop.Low.Float(), a.By.Stop.High.Float())
	case wanted.Compare(a.By.Stop.High) < 0:
		w.Reach, w.Because = Doubtful, fmt.Sprintf("acid stops at about pH %.2g to %.2g by itself, so no sugar takes every sausage there", a.By.Stop.Low.Float(), a.By.Stop.High.Float())
	default:
		w.Reach, w.Because = Can, fmt.Sprintf("with enough sugar; acid stops by itself at about pH %.2g to %.2g", a.By.Stop.Low.Float(), a.By.Stop.High.Float())
	}
	var err error
	if w.Stoichiometry, err = a.dextrose(need.Stoichiometry); err != nil {
		return nil, err
	}
	w.Handbook, err = a.dextrose(need.Handbook)
	return w, err
}

// dextrose turns glucose into the monohydrate.
func (a *Answer) dextrose(need quantity.Between[quantity.PPM]) (Dextrose, error) {
	m, known := material.ByKey("dextrose-monohydrate")
	if !known {
		return Dextrose{}, errors.New("dextrose is no material")
	}
	hydrate, err := quantity.NewRatio(1 / m.FermentableSugar().Or(quantity.MustPercent(100)).Float())
	if err != nil {
		return Dextrose{}, err
	}
	var d Dextrose
	if d.OnMeat.Low, err = need.Low.Times(hydrate); err != nil {
		return Dextrose{}, err
	}
	if d.OnMeat.High, err = need.High.Times(hydrate); err != nil {
		return Dextrose{}, err
	}
	d.Mass = quantity.Between[quantity.Mass]{Low: d.OnMeat.Low.Of(a.Meat), High: d.OnMeat.High.Of(a.Meat)}
	missing := func(need, have quantity.PPM) quantity.Mass {
		return gramsPerKilogram(need.GramsPerKilogram() - have.GramsPerKilogram()).Of(a.Meat).Times(hydrate)
	}
	d.Missing = quantity.Between[quantity.Mass]{Low: missing(need.Low, a.Glucose.High), High: missing(need.High, a.Glucose.Low)}
	return d, nil
}

func (a *Answer) unknownSugar() bool {
	return slices.ContainsFunc(a.Notes, func(n finding.Note) bool { return n.Code == "sugar-unknown" })
}

func (a *Answer) note(code string, member fault.Path, from source.Citation, format string, args ...any) {
	a.Notes = append(a.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...), Source: from, AsWritten: true})
}

// slow reports whether a member brings a sugar that may be left.
func (a *Answer) slow(member fault.Path) bool {
	return slices.ContainsFunc(a.Sugars, func(l SugarLine) bool { return l.Slow && slices.Equal(l.Member, member) })
}

// remark says what the figures do not count.
func (a *Answer) remark(s *formula.Sheet) {
	from := Sources()
	if !a.StartRead {
		a.note("start-not-read", nil, from.Start, "where no pH was read, raw meat is taken to be at pH 5.5 to 5.9: read the mixture and state it")
	}
	a.note("buffer-below", nil, from.Buffer, "the buffer is known from pH 5.5 to 7.0; below it meat takes more acid, so the pH ends rather higher in the range than lower")
	switch a.Sours {
	case NoneAdded:
		a.note("no-culture", nil, source.Citation{}, "no culture is added; what the meat's own bacteria make is left to chance and not counted, in either direction")
	case NoneSours:
		a.note("no-acid-culture", nil, source.Citation{}, "none of the species makes acid that counts; what the meat's own bacteria make is left to chance and not counted")
	case TakenToSour:
		a.note("species-unstated", nil, source.Citation{}, "the species of the culture are not stated: it is taken to make acid, and to use sucrose")
	case SurelySours:
	}
	for _, l := range a.Sugars {
		if l.Slow {
			a.note("slow-sugar", l.Member, source.CommonPractice("many strains use lactose, and some use sucrose, slowly or not at all; recalled"),
				"%s is %s, which the culture may leave: it counts at the low end of the pH and not at the high end", l.Name, l.Sugar)
		}
	}
	for i := range s.Lines {
		l := &s.Lines[i]
		switch {
		case l.Addition == nil || l.Range.High.IsZero():
		case l.Role == formula.Acidulant || l.Addition.Material != nil && l.Addition.Material.Key == "glucono-delta-lactone":
			a.note("acidulant-not-counted", l.Member, source.Citation{}, "%s is acid that no culture makes; it takes the pH down further and is not counted", l.Name)
		case l.Spooned() && l.Role == formula.Sugar && !a.slow(l.Member): // a note for each addition at most
			a.note("spooned", l.Member, l.SpoonSource(), "%s by the spoon weighs from %s to %s: both ends are counted", l.Name, l.Range.Low, l.Range.High)
		}
	}
	if a.Wanted != nil && a.Wanted.PH.Float() >= 4.8 && a.Wanted.PH.Float() <= 5 {
		a.note("just-under-five", nil, from.Handbook, "the handbook also says 5 to 7 g/kg of dextrose for just under pH 5.0, which is less than its rule for a tenth of a unit asks")
	}
}
