package formula

import (
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// CasingSize is the size of a casing; one member is set.
type CasingSize struct {
	Flat     quantity.Length // width of the empty casing laid flat
	Diameter quantity.Length // when it is stuffed
}

// Stuffed returns the diameter when it is stuffed. A casing laid flat is twice
// its width around, and stuffed it is a circle of the same: d = 2 w / pi. It is
// taken not to stretch.
func (c CasingSize) Stuffed() (quantity.Length, error) {
	if !c.Diameter.IsZero() {
		return c.Diameter, nil
	}
	return quantity.Metres(2 * c.Flat.Metres() / math.Pi)
}

// DensityRange is how much a volume of mixture weighs, from the least to the
// most; zero to reckon it from the formula.
type DensityRange = quantity.Between[quantity.Density]

// Casings is casings to be filled, all alike.
type Casings struct {
	Size         CasingSize
	Length       quantity.Length // of each, as cut
	EndAllowance quantity.Length // what tying takes of it, at each end
	Count        int
	Density      DensityRange
}

func (c *Casings) check() error {
	var bad fault.Collector
	checkTube(&bad, c.Size, c.Length, c.EndAllowance, "length")
	if c.Count < 1 {
		bad.Add(fault.At("count"), "minimum", "there must be at least one casing")
	}
	return bad.Err("invalid-value", "the casings have no meaning as they stand")
}

// checkTube records a size that is none, and ends that leave nothing to fill.
func checkTube(bad *fault.Collector, size CasingSize, length, end quantity.Length, member string) {
	if size.Flat.IsZero() == size.Diameter.IsZero() {
		bad.Add(fault.At("size"), "oneOf", "a casing has either a flat width or a stuffed diameter")
	}
	if !(2*end.Metres() < length.Metres()) {
		bad.Add(fault.At(member), "minimum", "%s is used up by %s at each end", length, end)
	}
}

// hold returns what the casings hold, at the middle of the density.
func (c *Casings) hold(f Formula) (quantity.Mass, error) {
	density, _, err := densityOf(f, c.Density)
	if err != nil {
		return quantity.Mass{}, err
	}
	t, err := newTube(c.Size, c.EndAllowance)
	if err != nil {
		return quantity.Mass{}, err
	}
	held := t.holds(c.Length, density.Middle).Times(quantity.MustRatio(float64(c.Count)))
	if mostMeat.Less(held) {
		return quantity.Mass{}, tooMuch(held, "casings")
	}
	return held, nil
}

// Spread is a figure that is known within a range, with the middle of what it
// comes from.
type Spread[T any] struct{ Low, Middle, High T }

// tube is a stuffed casing: a cylinder between two ties.
type tube struct {
	diameter quantity.Length
	end      quantity.Length // at each end
}

func newTube(size CasingSize, end quantity.Length) (tube, error) {
	d, err := size.Stuffed()
	return tube{d, end}, err
}

// section returns the area across, in square millimetres, which is also the
// volume in millilitres of a metre.
func (t tube) section() float64 {
	d := t.diameter.Millimetres()
	const four = 4
	return math.Pi / four * d * d
}

// holds returns what a casing holds between its ties.
func (t tube) holds(cut quantity.Length, of quantity.Density) quantity.Mass {
	filled := cut.Metres() - 2*t.end.Metres()
	volume, err := quantity.Millilitres(t.section() * filled)
	if err != nil { // of a length that its ends use up
		return quantity.Mass{}
	}
	return of.Of(volume)
}

// cutFor returns how long to cut a casing that is to hold a mass.
func (t tube) cutFor(m quantity.Mass, of quantity.Density) (quantity.Length, error) {
	return quantity.Metres(m.Grams()/of.GramsPerMillilitre()/t.section() + 2*t.end.Metres())
}

// Densities of the parts of food, in g/mL at 4 °C, from the straight lines and
// the parabola of Choi and Okos: water 997.18 + 3.1439e-3 T - 3.7574e-3 T^2, protein
// 1329.9 - 0.5184 T, fat 925.59 - 0.41757 T, carbohydrate 1599.1 - 0.31046 T, ash
// 2423.8 - 0.28063 T kg/m3. Salt counts as ash.
const (
	waterDensity        = 0.99713
	proteinDensity      = 1.32783
	fatDensity          = 0.92392
	carbohydrateDensity = 1.59786
	ashDensity          = 2.42268
)

// How much of the volume may be air that a stuffer without vacuum leaves, and
// how much of the batch must be known for the density to be reckoned from it.
// The former is common practice without a source, the latter this project's
// choice.
const (
	mostAir    = 0.05
	knownShare = 0.9
)

// usualDensity is what is taken when too little of the composition is known.
var usualDensity = DensityRange{Low: quantity.MustGramsPerMillilitre(1.00), High: quantity.MustGramsPerMillilitre(1.05)}

// DensityOf returns how much the mixture weighs when it is stuffed: at most what
// its water, protein, fat, carbohydrate and ash weigh side by side, at least that
// with a twentieth of air. It returns 1.00 to 1.05 g/mL when the composition of more
// than a tenth of the batch is not known. It returns the faults of [Formula.Check]
// when the formula can't be scaled.
func (f Formula) DensityOf() (DensityRange, source.Citation, error) {
	s := Sheet{Scale: Divisions{{Division: quantity.MustGrams(1e-6)}}}
	if err := s.addParts(f, quantity.MustGrams(1000), nil); err != nil {
		return DensityRange{}, source.Citation{}, err
	}
	if err := s.addAdditions(f); err != nil {
		return DensityRange{}, source.Citation{}, err
	}
	all, known, volume := 0.0, 0.0, 0.0
	for _, l := range s.Lines {
		all += l.Exact.Grams()
		if v, ok := volumePerMass(l); ok {
			known += l.Exact.Grams()
			volume += l.Exact.Grams() * v
		}
	}
	if !(known >= knownShare*all) {
		return usualDensity, source.CommonPractice("a stuffed mixture weighs 1.00 to 1.05 kg per litre"), nil
	}
	full, err := quantity.GramsPerMillilitre(known / volume)
	if err != nil {
		return DensityRange{}, source.Citation{}, fmt.Errorf("density of the mixture: %w", err)
	}
	aired, err := quantity.GramsPerMillilitre((1 - mostAir) * known / volume)
	return DensityRange{Low: aired, High: full}, source.Citation{
		Title: "Choi and Okos, Effects of temperature and composition on the thermal properties of foods", Year: 1986,
		Section: "densities of the components, at 4 °C", Trust: source.Derived,
		Note: "the coefficients were seen quoted; volumes are taken to add up; the low end is with 5 percent of air, common practice without a source",
	}, err
}

// densityOf returns the density that was stated, or that of the formula.
func densityOf(f Formula, stated DensityRange) (Spread[quantity.Density], source.Citation, error) {
	var from source.Citation
	if stated.High.IsZero() {
		var err error
		if stated, from, err = f.DensityOf(); err != nil {
			return Spread[quantity.Density]{}, from, err
		}
	}
	const half = 0.5
	middle, err := quantity.GramsPerMillilitre(half * (stated.Low.GramsPerMillilitre() + stated.High.GramsPerMillilitre()))
	return Spread[quantity.Density]{Low: stated.Low, Middle: middle, High: stated.High}, from, err
}

// volumePerMass returns the volume of a gram of what a line is, in millilitres;
// false when too little of it is known.
func volumePerMass(l Line) (float64, bool) {
	switch {
	case l.Part != nil:
		return volumeOf(l.Part.Material)
	case l.Role == RehydrationWater:
		return 1 / waterDensity, true
	case l.Addition == nil:
		return 0, false
	case l.Addition.Cure != nil:
		return 1 / ashDensity, true
	case l.Addition.Material != nil:
		return volumeOf(*l.Addition.Material)
	default:
		return 0, false
	}
}

func volumeOf(m material.Material) (float64, bool) {
	c := m.Composition
	mass, volume := 0.0, 0.0
	for _, p := range []struct {
		share   material.Known[quantity.Fraction]
		density float64
	}{
		{c.Water, waterDensity}, {c.Protein, proteinDensity}, {c.Fat, fatDensity}, {c.Carbohydrate, carbohydrateDensity}, {c.Ash, ashDensity},
	} {
		share := p.share.Or(quantity.Fraction{}).Float()
		mass += share
		volume += share / p.density
	}
	if mass < knownShare {
		return 0, false
	}
	return volume / mass, true
}

// Stuffing is how a batch is to be stuffed; CutLength or PieceMass is set.
type Stuffing struct {
	Size         CasingSize
	CutLength    quantity.Length // of each piece, with both ends
	PieceMass    quantity.Mass   // green, of each piece
	EndAllowance quantity.Length // what tying takes of it, at each end
	Density      DensityRange
}

// Check reports, as a fault.Invalid with paths from the stuffing down, a casing
// without a size, and pieces that are all ends.
func (o Stuffing) Check() error {
	var bad fault.Collector
	cut := o.CutLength
	if !o.PieceMass.IsZero() {
		cut, _ = quantity.Metres(2*o.EndAllowance.Metres() + 1) // it has no length of its own yet
	}
	checkTube(&bad, o.Size, cut, o.EndAllowance, "cut_length")
	return bad.Err("invalid-value", "the stuffing has no meaning as it stands")
}

// Piece is a stuffed piece.
type Piece struct {
	Mass quantity.Mass
	Cut  quantity.Length // with both ends
}

// Filling is what stuffing a batch comes to. What is a range follows from that of
// the density.
type Filling struct {
	Diameter      quantity.Length
	Density       Spread[quantity.Density]
	DensitySource source.Citation // zero when the density was stated

	Stuffed quantity.Mass // the batch less what is lost on the way
	Mass    Spread[quantity.Mass]
	Cut     Spread[quantity.Length]

	Count  int64 // whole pieces, and the last one
	Counts quantity.Between[int64]
	Last   *Piece                  // shorter than the others; nil when all are alike
	Casing Spread[quantity.Length] // in all
}

// nearlyWhole is what a last piece may lack of the others, or be of another, to
// be made up for by all of them: nobody stuffs to a fiftieth. A choice of this
// project.
const nearlyWhole = 0.02

// mostPieces and mostCasing, in metres, are more than any batch is stuffed into.
const (
	mostPieces = 1e6
	mostCasing = 1e9
)

// tooMany is about the stuffing as a whole.
func tooMany(detail string) error {
	return &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: detail, Violations: []fault.Violation{{Code: "maximum", Detail: detail}}}
}

// pieces returns how many pieces of a mass the stuffed mixture makes, and which
// part of a piece the last one is, 1 when it is like the others.
func pieces(stuffed, each quantity.Mass) (count int64, last float64, err error) {
	ratio, err := stuffed.Over(each)
	if err != nil || !(ratio.Float() <= mostPieces) {
		return 0, 0, tooMany(fmt.Sprintf("%s of mixture in pieces of %s are more than %g", stuffed, each, mostPieces))
	}
	whole, part := math.Modf(ratio.Float())
	switch {
	case part >= 1-nearlyWhole:
		return int64(whole) + 1, 1, nil
	case whole == 0:
		return 1, part, nil
	case part <= nearlyWhole:
		return int64(whole), 1, nil
	default:
		return int64(whole) + 1, part, nil
	}
}

// AsStuffing returns how these casings are stuffed.
func (c *Casings) AsStuffing() Stuffing {
	return Stuffing{Size: c.Size, CutLength: c.Length, EndAllowance: c.EndAllowance, Density: c.Density}
}

// Stuff returns what stuffing the batch of a sheet of f comes to: a balance of
// masses, and cylinders of the stuffed diameter d between two ties. A piece cut to a
// length L with e at each end holds, at a density q,
//
//	m = q (pi/4) d^2 (L - 2 e)
//
// Round ends hold less than a cylinder: at most d/3 of its length when both are
// half spheres. A remainder of less than a fiftieth of a piece either way is made
// up for by all of them. It reports the faults of [Stuffing.Check], and
// fault.Invalid for more than a million pieces.
func Stuff(f Formula, s Sheet, o Stuffing) (Filling, error) {
	if err := o.Check(); err != nil {
		return Filling{}, err
	}
	t, err := newTube(o.Size, o.EndAllowance)
	if err != nil {
		return Filling{}, err
	}
	fill := Filling{Diameter: t.diameter, Stuffed: s.Stuffed()}
	if fill.Density, fill.DensitySource, err = densityOf(f, o.Density); err != nil {
		return Filling{}, err
	}
	q := fill.Density
	if o.PieceMass.IsZero() {
		fill.Mass = Spread[quantity.Mass]{t.holds(o.CutLength, q.Low), t.holds(o.CutLength, q.Middle), t.holds(o.CutLength, q.High)}
		fill.Cut = Spread[quantity.Length]{o.CutLength, o.CutLength, o.CutLength}
	} else {
		fill.Mass = Spread[quantity.Mass]{o.PieceMass, o.PieceMass, o.PieceMass}
		if fill.Cut, err = cuts(t, q, o.PieceMass); err != nil {
			return Filling{}, err
		}
	}
	return fill, fill.count(t)
}

// cuts returns how long to cut casings for a mass: the denser, the shorter.
func cuts(t tube, q Spread[quantity.Density], m quantity.Mass) (Spread[quantity.Length], error) {
	low, err := t.cutFor(m, q.High)
	if err != nil {
		return Spread[quantity.Length]{}, fmt.Errorf("length for %s: %w", m, err)
	}
	middle, err := t.cutFor(m, q.Middle)
	if err != nil {
		return Spread[quantity.Length]{}, fmt.Errorf("length for %s: %w", m, err)
	}
	high, err := t.cutFor(m, q.Low)
	return Spread[quantity.Length]{low, middle, high}, err
}

// count fills in how many pieces there are and how much casing they take.
func (f *Filling) count(t tube) error {
	var last float64
	var err error
	if f.Count, last, err = pieces(f.Stuffed, f.Mass.Middle); err != nil {
		return err
	}
	if f.Counts.Low, _, err = pieces(f.Stuffed, f.Mass.High); err != nil {
		return err
	}
	if f.Counts.High, _, err = pieces(f.Stuffed, f.Mass.Low); err != nil {
		return err
	}
	if last < 1 {
		part := quantity.MustRatio(last)
		p := Piece{Mass: part.Of(f.Mass.Middle)}
		if p.Cut, err = t.cutFor(p.Mass, f.Density.Middle); err != nil {
			return fmt.Errorf("length of the last piece: %w", err)
		}
		f.Last = &p
	}
	for _, end := range []struct {
		count int64
		of    quantity.Density
		to    *quantity.Length
	}{
		{f.Counts.Low, f.Density.High, &f.Casing.Low},
		{f.Count, f.Density.Middle, &f.Casing.Middle},
		{f.Counts.High, f.Density.Low, &f.Casing.High},
	} {
		*end.to, err = t.casing(f.Stuffed, end.count, end.of)
		if err != nil {
			return fmt.Errorf("length of casing: %w", err)
		}
	}
	if f.Casing.High.Metres() > mostCasing {
		return tooMany(fmt.Sprintf("it takes %.6g m of casing, and may take %g at most", f.Casing.High.Metres(), mostCasing))
	}
	return nil
}

// casing returns how much casing a mass takes in so many pieces: what it fills,
// and two ends for each.
func (t tube) casing(stuffed quantity.Mass, count int64, of quantity.Density) (quantity.Length, error) {
	return quantity.Metres(stuffed.Grams()/of.GramsPerMillilitre()/t.section() + 2*float64(count)*t.end.Metres())
}
