package moisture

import (
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

const codeInvalid = "invalid-value"

// Shape is what a piece looks like to the water in it. The zero value is invalid.
type Shape int

// The shapes.
const (
	// Cylinder is a sausage: water goes to the rim, nothing through the ends.
	Cylinder Shape = iota + 1
	// Slab is a flattened sausage or a whole muscle that dries from two sides.
	Slab
	// SlabOneSide is one that lies, or has a side of fat or skin.
	SlabOneSide
)

// String returns the name of the shape.
func (s Shape) String() string {
	switch s {
	case Cylinder:
		return "cylinder"
	case Slab:
		return "slab"
	case SlabOneSide:
		return "slab-one-side"
	}
	return "invalid"
}

// Casing is what a piece is stuffed into. The zero value is invalid.
type Casing int

// The casings, by what they let through.
const (
	Bare Casing = iota + 1
	Natural
	Collagen
	Fibrous
	Plastic
)

// String returns the name of the casing.
func (c Casing) String() string {
	switch c {
	case Bare:
		return "bare"
	case Natural:
		return "natural"
	case Collagen:
		return "collagen"
	case Fibrous:
		return "fibrous"
	case Plastic:
		return "plastic"
	}
	return "invalid"
}

// Conductance returns how well a wet casing lets vapour through, per difference
// of its concentration in air as [air.FilmConductance] counts it, and what it may
// be; false for none at all. See [CasingSource].
func (c Casing) Conductance() (quantity.Estimate[quantity.Speed], bool) {
	of := func(low, mid, high float64) (quantity.Estimate[quantity.Speed], bool) {
		return quantity.Estimate[quantity.Speed]{
			Low: quantity.MustMetresPerSecond(low), Mid: quantity.MustMetresPerSecond(mid), High: quantity.MustMetresPerSecond(high),
			Coverage: quantity.MustPercent(80),
		}, true
	}
	switch c {
	case Natural, Collagen, Fibrous:
		return of(0.0025, 0.006, 0.0144)
	case Plastic:
		// 4.7 g/(m² day) at 25 °C and 100 percent of difference.
		return of(1e-6, 2.3e-6, 5e-6)
	case Bare:
	}
	return quantity.Estimate[quantity.Speed]{}, false
}

// CasingSource cites what casings let through.
func CasingSource() source.Citation {
	return source.CommonPractice("a wet natural, collagen or fibrous casing with its mould holds back about as much vapour as the film of slow air on it, within a factor of 2.4; it lets less through as it dries")
}

// Membrane is a bag that lets vapour through, as its maker tested it: so much
// water through it at a temperature, with a difference of relative humidity
// between its sides (ASTM E96/E96M names both). It is taken to lie on the meat
// everywhere: where it does not, it holds back more.
type Membrane struct {
	Transmission    quantity.VapourTransmission
	TestTemperature quantity.Temperature
	TestDifference  quantity.Fraction // of relative humidity
}

// Piece is what dries.
type Piece struct {
	Shape Shape
	// Thickness is the diameter of a cylinder and the thickness of a slab, when
	// it is hung.
	Thickness quantity.Length
	Mix       wateractivity.Mix
	Density   material.Known[quantity.Density] // 1.03 g/mL when not known

	Casing Casing
	// CasingConductance goes before that of the kind of casing.
	CasingConductance material.Known[quantity.Speed]
	Membrane          material.Known[Membrane]

	// Diffusivity at 13 °C goes before what is estimated of the fat.
	Diffusivity material.Known[quantity.Diffusivity]
	// Quicker multiplies the diffusivity, estimated or given: 1 when not known.
	Quicker material.Known[quantity.Ratio]
	// MoistureFall is how steeply the diffusivity falls as a place dries: by
	// exp(-MoistureFall (1 - X/X0)), X being the water per dry solids there and X0
	// that of the green piece. Zero, the default, is no fall: the estimate is that
	// of whole courses and has the fall in it already.
	MoistureFall quantity.Ratio
	// Isothermal leaves out that evaporation cools the surface.
	Isothermal bool
	// Cells is how finely the piece is cut, 4 to 400; 0 takes 50.
	Cells int
}

const (
	usedDensity            = 1.03 // g/mL of stuffed sausage (recalled, 1.0 to 1.06)
	leastCells, mostCells  = 4, 400
	usedCells              = 50
	leastMillimetres       = 5.0
	mostMillimetres        = 500.0
	leastWater, mostWater  = 20.0, 90.0 // percent
	mostFall               = 10.0
	leastQuicker           = 0.01
	mostQuicker            = 100.0
	leastDensity           = 0.5
	mostDensity            = 1.1
	leastDifference        = 0.01
	leastTest, mostTest    = 0.0, 60.0 // °C
	mostConductance        = 10.0      // m/s
	mostDiffusivity        = 1e-8      // m²/s
	leastCelsius, mostAirC = -10.0, 45.0
)

// Validate reports fault.Invalid with every member at fault.
func (p Piece) Validate() error {
	var bad fault.Collector
	if p.Shape < Cylinder || p.Shape > SlabOneSide {
		bad.Add(fault.At("shape"), "enum", "the shape must be one of cylinder, slab and slab-one-side")
	}
	if p.Casing < Bare || p.Casing > Plastic {
		bad.Add(fault.At("casing"), "enum", "the casing must be one of bare, natural, collagen, fibrous and plastic")
	}
	between := func(member, unit string, v, low, high float64) {
		if !(v >= low && v <= high) {
			bad.Add(fault.At(member), "range", "must be %g to %g %s, got %.6g", low, high, unit, v)
		}
	}
	between("thickness", "mm", p.Thickness.Millimetres(), leastMillimetres, mostMillimetres)
	if err := p.Mix.Validate(); err != nil {
		bad.AddError(fault.At("composition"), codeInvalid, err)
	} else if w := p.Mix.Water.Percent(); !(w >= leastWater && w <= mostWater) {
		bad.Add(fault.At("composition", "water_percent"), "range", "water must be %g to %g %%, got %.6g", leastWater, mostWater, w)
	}
	if d, known := p.Density.Get(); known {
		between("density", "g/mL", d.GramsPerMillilitre(), leastDensity, mostDensity)
	}
	if k, known := p.CasingConductance.Get(); known {
		between("casing_conductance_m_per_s", "m/s", k.MetresPerSecond(), 1e-9, mostConductance)
	}
	if d, known := p.Diffusivity.Get(); known {
		between("diffusivity_m2_per_s", "m²/s", d.SquareMetresPerSecond(), 1e-14, mostDiffusivity)
	}
	if q, known := p.Quicker.Get(); known {
		between("diffusivity_ratio", "", q.Float(), leastQuicker, mostQuicker)
	}
	between("moisture_fall_ratio", "", p.MoistureFall.Float(), 0, mostFall)
	if m, known := p.Membrane.Get(); known {
		bad.AddError(fault.At("membrane"), codeInvalid, m.Validate())
	}
	if p.Cells != 0 && (p.Cells < leastCells || p.Cells > mostCells) {
		bad.Add(fault.At("cells"), "range", "must be %d to %d, got %d", leastCells, mostCells, p.Cells)
	}
	return bad.Err(codeInvalid, "the piece has no meaning as it stands")
}

// Validate reports fault.Invalid with every member at fault.
func (m Membrane) Validate() error {
	var bad fault.Collector
	if !(m.Transmission.GramsPerSquareMetreDay() > 0) {
		bad.Add(fault.At("wvtr_g_per_m2_day"), "minimum", "must be more than 0, got %v", m.Transmission)
	}
	if t := m.TestTemperature.Celsius(); !(t >= leastTest && t <= mostTest) {
		bad.Add(fault.At("test_temperature"), "range", "must be %g to %g °C, got %.6g", leastTest, mostTest, t)
	}
	if d := m.TestDifference.Float(); !(d >= leastDifference) {
		bad.Add(fault.At("test_humidity_difference_percent"), "minimum", "must be at least 1 %%, got %v", m.TestDifference)
	}
	return bad.Err(codeInvalid, "what was tested must be said")
}
