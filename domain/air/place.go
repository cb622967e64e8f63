package air

import (
	"errors"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Order is a question: some places with air, and what hangs in them.
type Order struct {
	Places  []Place // one or more; the others are compared with the first
	Product *Product
	Wanted  *Wanted
	Checks  []SaltCheck
}

// Place is air somewhere: a drying room, a refrigerator, a cellar.
type Place struct {
	Name        string
	Temperature quantity.Temperature
	Humidity    Humidity
	AirSpeed    *quantity.Speed            // at the pieces
	Hygrometer  *quantity.RelativeHumidity // how far off it may be, in points; DefaultHygrometer when nil
	Thermometer *quantity.TemperatureDelta // how far off each may be; DefaultThermometer when nil
}

// Humidity is how somebody came to know how much vapour there is: exactly one of
// its members is there.
type Humidity struct {
	Relative *quantity.RelativeHumidity // read off a hygrometer
	DewPoint *quantity.Temperature
	WetBulb  *quantity.Temperature // of a wet wick in moving air
	Coil     *Coil
}

// Coil is the cold surface of a refrigerator, which the air leaves saturated and
// then warms up from.
type Coil struct {
	Temperature quantity.Temperature
	Iced        bool // saturated over ice, and not over water
}

// Product is what hangs there.
type Product struct {
	Surface     quantity.WaterActivity
	Diameter    *quantity.Length
	Temperature *quantity.Temperature // of a piece that comes in from elsewhere
}

// Wanted is a drying drive that somebody would like to have.
type Wanted struct {
	Drive   quantity.Pressure
	Surface quantity.WaterActivity
}

// DefaultThermometer is how far off a household thermometer may be when nobody
// checked it: 0.5 °C. Common practice, no source.
func DefaultThermometer() quantity.TemperatureDelta { return quantity.MustCelsiusDegrees(0.5) }

// DefaultHygrometer is how far off a household hygrometer may be when nobody
// checked it: 3 points up to 80 percent, and from there in a line up to 5 points
// at 100. Common practice, no source.
func DefaultHygrometer(reading quantity.RelativeHumidity) quantity.RelativeHumidity {
	const least, most, damp = 0.03, 0.05, 0.8
	above := math.Max(0, reading.Float()-damp) / (1 - damp)
	return quantity.MustHumidityPercent(100 * (least + above*(most-least)))
}

// Figure is a figure, and both ends that it goes to when the instruments are off
// by as much as they may be. It is no interval of a probability: each end is where
// all that was read is off by the whole of its error, in the direction that hurts.
//
// Every figure of this package rises or falls all the way with each of what was
// read when the others stay, so that its ends lie at corners: the place is
// reckoned with each reading at both its ends. Air is not more than saturated: where
// a dew point, a wet bulb or a coil may be as warm as the air, the place is
// reckoned there too.
type Figure[T any] struct {
	Value  T
	Within quantity.Between[T]
}

// Points are a temperature that does not always exist: of air so dry that it is
// below -40 °C, at that end or altogether, it is nil.
type Points struct{ Value, Low, High *quantity.Temperature }

// Told is an answer to a question by yes or no that the instruments may leave
// open. The zero value is invalid.
type Told int

// The answers.
const (
	Yes     Told = iota + 1 // at every end of what may be off
	No                      // at none
	NotTold                 // at some
)

// String returns the word used on the wire.
func (t Told) String() string {
	switch t {
	case Yes:
		return "yes"
	case No:
		return "no"
	case NotTold:
		return "not-told"
	default:
		return "unstated"
	}
}

// State is what the air of a place is and does.
type State struct {
	Place       Place
	Hygrometer  *quantity.RelativeHumidity // what was taken; nil where no hygrometer was read
	Thermometer quantity.TemperatureDelta
	Humidity    Figure[quantity.RelativeHumidity]
	Vapour      Figure[quantity.Pressure]
	Saturation  Figure[quantity.Pressure]
	Density     Figure[quantity.Density] // of the vapour
	DewPoint    Points
	WetBulb     Points
	Effect      *Effect                            // on the product; nil without one
	Wanted      *Figure[quantity.RelativeHumidity] // for the wanted drive; nil where no humidity of air makes it
}

// Effect is what the air does to the product.
type Effect struct {
	Drive Figure[Drive]
	Gap   Figure[quantity.Ratio] // of the water activity to the humidity, both 0..1
	Gains Told                   // water, instead of losing it
	Film  *Figure[quantity.Speed]
	Most  *Figure[quantity.LossRate] // of its weight a day
	Drips *Told                      // water from the air on the piece; nil where it is as warm as the air
}

// Comparison holds a place against the first.
type Comparison struct {
	Place       int      // index in Order.Places
	Vapour      *Bounded // nil where the first holds none
	Drive       *Bounded // nil where the first place does not dry
	Film        *Figure[quantity.Ratio]
	Diffusivity Figure[quantity.Ratio] // of water in the sausage
	DewPoint    *Figure[quantity.TemperatureDelta]
	Moves       Movement
	Same        *Same // nil without a product
}

// Bounded is a ratio of which an end does not exist where what it is over may be
// nothing.
type Bounded struct {
	Value     quantity.Ratio
	Low, High *quantity.Ratio
}

// Movement is which way vapour goes where the air of two places meets. The zero
// value is invalid.
type Movement int

// The directions.
const (
	FromFirst Movement = iota + 1
	ToFirst
	EitherWay // the instruments do not tell
)

// String returns the word used on the wire.
func (m Movement) String() string {
	switch m {
	case FromFirst:
		return "from-first"
	case ToFirst:
		return "to-first"
	case EitherWay:
		return "not-told"
	default:
		return "unstated"
	}
}

// Same is the humidity at which a place draws water from the product as strongly
// as the first does.
type Same struct {
	Possible Told
	Humidity *Figure[quantity.RelativeHumidity] // nil where no humidity of air does
}

// Answer is the answer to an Order.
type Answer struct {
	States      []State
	Comparisons []Comparison // of the second and further places
	Checks      []Offset
	Notes       []finding.Note // members from the order down
}

// What a place can be, in °C; what any instrument may be off is far inside what
// the package covers.
const (
	coldestPlace = -30.0
	warmestPlace = 60.0
	mostOff      = 5.0   // of a thermometer
	thinnest     = 0.005 // m
	thickest     = 0.25
)

// Where the speed of the air is not given, m/s: recalled, 0.05 to 0.2 in
// ripening, up to 0.5 early in drying.
const usedSpeed, fastUsual = 0.15, 0.5

// usedDensity of stuffed sausage, g/mL (recalled, 1.0 to 1.06).
const usedDensity = 1.03

// Tell answers an order. It reports fault.Invalid with every member at fault:
// a temperature outside -30 to 60 °C (out-of-range), a dew point, wet bulb or coil
// warmer than the air (too-warm), a wet bulb colder than that of bone-dry air
// (too-cold), ice above its melting point (too-warm), a diameter that no sausage
// has (out-of-range), and a salt at a temperature that its table does not reach
// to (out-of-range).
func Tell(o Order) (Answer, error) {
	if err := o.validated(); err != nil {
		return Answer{}, err
	}
	var a Answer
	reckoned := make([]reckoning, 0, len(o.Places))
	for _, p := range o.Places {
		r := p.reckon()
		s, err := r.state(o)
		if err != nil {
			return Answer{}, err
		}
		reckoned, a.States = append(reckoned, r), append(a.States, s)
	}
	for i := 1; i < len(reckoned); i++ {
		c, err := compare(o, reckoned[0], reckoned[i], a.States[0], a.States[i])
		if err != nil {
			return Answer{}, err
		}
		c.Place = i
		a.Comparisons = append(a.Comparisons, c)
	}
	for _, c := range o.Checks {
		off, err := c.offset()
		if err != nil {
			return Answer{}, err
		}
		a.Checks = append(a.Checks, off)
	}
	a.Notes = o.notes(a)
	return a, nil
}

func (o Order) validated() error {
	var bad fault.Collector
	if len(o.Places) == 0 {
		bad.Add(fault.At("places"), "minItems", "there is no place")
	}
	for i, p := range o.Places {
		p.validate(&bad, fault.At("places", i))
	}
	if p := o.Product; p != nil {
		if d := p.Diameter; d != nil && !(d.Metres() >= thinnest && d.Metres() <= thickest) {
			bad.Add(fault.At("product", "diameter"), "out-of-range", "a sausage is 5 to 250 mm thick, got %s", *d)
		}
		if p.Temperature != nil {
			within(&bad, fault.At("product", "temperature"), *p.Temperature)
		}
	}
	for i, c := range o.Checks {
		c.validate(&bad, fault.At("salt_checks", i))
	}
	return bad.Err("invalid-value", "the places have no meaning as they stand")
}

// within records a temperature that is not of a place.
func within(bad *fault.Collector, path fault.Path, t quantity.Temperature) bool {
	if c := t.Celsius(); c >= coldestPlace && c <= warmestPlace {
		return true
	}
	bad.Add(path, "out-of-range", "it is taken to be within %g and %g °C, got %s", coldestPlace, warmestPlace, t)
	return false
}

func (p Place) validate(bad *fault.Collector, path fault.Path) {
	at := func(member string) fault.Path { return fault.At(member).Under(path) }
	warm := within(bad, at("temperature"), p.Temperature)
	count := 0
	cold := func(member fault.Path, t quantity.Temperature) bool {
		count++
		switch {
		case !within(bad, member, t) || !warm:
			return false
		case t.Compare(p.Temperature) > 0:
			bad.Add(member, "too-warm", "it can't be warmer than the air, which is at %s, got %s", p.Temperature, t)
			return false
		}
		return true
	}
	if d := p.Thermometer; d != nil && !(math.Abs(d.CelsiusDegrees()) <= mostOff) {
		bad.Add(at("thermometer_uncertainty"), "out-of-range", "a thermometer may be off by up to %g °C, got %s", mostOff, *d)
	}
	h := p.Humidity
	if h.Relative != nil {
		count++
	}
	if h.DewPoint != nil {
		cold(at("dew_point"), *h.DewPoint)
	}
	if h.WetBulb != nil && cold(at("wet_bulb"), *h.WetBulb) && byWetBulb(p.Temperature.Kelvin(), h.WetBulb.Kelvin()) < 0 {
		bad.Add(at("wet_bulb"), "too-cold", "at %s not even bone-dry air cools a wick to %s", p.Temperature, *h.WetBulb)
	}
	if c := h.Coil; c != nil {
		member := fault.At("coil", "temperature").Under(path)
		if cold(member, c.Temperature) && c.Iced && c.Temperature.Kelvin() > triplePoint+meeting {
			bad.Add(member, "too-warm", "there is no ice at %s", c.Temperature)
		}
	}
	if count != 1 {
		bad.Add(path, "oneOf", "tells its humidity in %d ways, not in one", count)
	}
}

// sample is a place as it would be if its instruments were off by so much.
type sample struct {
	kelvin, vapour, speed float64 // kPa, m/s
}

func (s sample) humidity() float64 { return s.vapour / saturation(s.kelvin) }

// reckoning is a place as it was read, and at the corners of what its instruments
// may be off.
type reckoning struct {
	place       Place
	thermometer quantity.TemperatureDelta
	hygrometer  *quantity.RelativeHumidity
	as          sample
	corners     []sample
}

func (p Place) reckon() reckoning {
	r := reckoning{place: p, thermometer: DefaultThermometer()}
	if p.Thermometer != nil {
		r.thermometer = *p.Thermometer
	}
	off := math.Abs(r.thermometer.CelsiusDegrees())
	by := off // of what the humidity is told by: another thermometer, mostly
	if h := p.Humidity.Relative; h != nil {
		taken := DefaultHygrometer(*h)
		if p.Hygrometer != nil {
			taken = *p.Hygrometer
		}
		r.hygrometer, by = &taken, taken.Float()
	}
	speeds := []float64{slowestBound, fastUsual}
	speed := usedSpeed
	if p.AirSpeed != nil {
		speed = math.Max(p.AirSpeed.MetresPerSecond(), slowestBound)
		speeds = []float64{speed}
	}
	t := p.Temperature.Kelvin()
	r.as = sample{t, p.vapour(t, 0), speed}
	for _, by := range []float64{-by, by} {
		kelvins := []float64{t - off, t + off}
		if full := p.saturatedAt(by); full > t-off && full < t+off {
			kelvins = append(kelvins, full)
		}
		for _, kelvin := range kelvins {
			for _, speed := range speeds {
				r.corners = append(r.corners, sample{kelvin, p.vapour(kelvin, by), speed})
			}
		}
	}
	return r
}

// vapour returns the pressure of vapour, in kPa, in air of so many kelvins, when
// what the humidity is told by is off by so much: of a humidity as a part, else
// in kelvins. It is not below nothing nor above saturation.
func (p Place) vapour(kelvin, by float64) float64 {
	var pressure float64
	switch h := p.Humidity; {
	case h.Relative != nil:
		pressure = (h.Relative.Float() + by) * saturation(kelvin)
	case h.DewPoint != nil:
		pressure = saturation(h.DewPoint.Kelvin() + by)
	case h.WetBulb != nil:
		pressure = byWetBulb(kelvin, math.Min(kelvin, h.WetBulb.Kelvin()+by))
	case h.Coil.Iced:
		pressure = overIce(math.Min(h.Coil.Temperature.Kelvin()+by, triplePoint))
	default:
		pressure = saturation(h.Coil.Temperature.Kelvin() + by)
	}
	return math.Min(math.Max(pressure, 0), saturation(kelvin))
}

// saturatedAt returns how warm the air, in kelvins, is at least when what the
// humidity is told by is off by so much; 0 where any temperature will do.
func (p Place) saturatedAt(by float64) float64 {
	switch h := p.Humidity; {
	case h.DewPoint != nil:
		return h.DewPoint.Kelvin() + by
	case h.WetBulb != nil:
		return h.WetBulb.Kelvin() + by
	case h.Coil != nil && h.Coil.Iced:
		coil := math.Min(h.Coil.Temperature.Kelvin()+by, triplePoint)
		held := overIce(coil)
		const colder = 10 // K: over ice air holds a tenth less at -10 °C, which is a degree
		kelvin, err := numeric.Root(func(k float64) float64 { return saturation(k) - held }, coil-colder, coil+meeting, kelvinTolerance)
		if err != nil {
			return 0 // the formulas over ice and water meet to 2 in 100 000
		}
		return kelvin
	case h.Coil != nil:
		return h.Coil.Temperature.Kelvin() + by
	default:
		return 0
	}
}

// over returns a figure of a place, with its ends.
func over[T any](r reckoning, of func(float64) (T, error), f func(sample) float64) (Figure[T], error) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range append(r.corners, r.as) {
		v := f(c)
		low, high = math.Min(low, v), math.Max(high, v)
	}
	return figure(of, f(r.as), low, high)
}

func figure[T any](of func(float64) (T, error), value, low, high float64) (f Figure[T], err error) {
	if f.Value, err = of(value); err != nil {
		return f, err
	}
	if f.Within.Low, err = of(low); err != nil {
		return f, err
	}
	f.Within.High, err = of(high)
	return f, err
}

// part makes a humidity of a part of saturation, which rounding may take above 1.
func part(v float64) (quantity.RelativeHumidity, error) {
	return quantity.HumidityPercent(100 * math.Min(math.Max(v, 0), 1))
}

func drive(kilopascals float64) (Drive, error) {
	p, err := quantity.Kilopascals(math.Abs(kilopascals))
	return Drive{Pressure: p, Wetting: kilopascals < 0}, err
}

// signed returns the drive in kPa, negative where it wets.
func (d Drive) signed() float64 {
	if d.Wetting {
		return -d.Pressure.Kilopascals()
	}
	return d.Pressure.Kilopascals()
}

func (r reckoning) state(o Order) (s State, err error) {
	s = State{Place: r.place, Hygrometer: r.hygrometer, Thermometer: r.thermometer}
	if s.Humidity, err = over(r, part, sample.humidity); err != nil {
		return s, err
	}
	if s.Vapour, err = over(r, quantity.Kilopascals, func(c sample) float64 { return c.vapour }); err != nil {
		return s, err
	}
	if s.Saturation, err = over(r, quantity.Kilopascals, func(c sample) float64 { return saturation(c.kelvin) }); err != nil {
		return s, err
	}
	if s.Density, err = over(r, quantity.GramsPerMillilitre, func(c sample) float64 {
		return c.vapour / (gasVapour * c.kelvin) / gramsPerKg
	}); err != nil {
		return s, err
	}
	if s.DewPoint, err = r.points(DewPoint); err != nil {
		return s, err
	}
	if s.WetBulb, err = r.points(WetBulb); err != nil {
		return s, err
	}
	if w := o.Wanted; w != nil {
		needs := func(c sample) float64 { return w.Surface.Float() - w.Drive.Kilopascals()/saturation(c.kelvin) }
		if v := needs(r.as); v >= 0 {
			f, err := over(r, part, needs)
			if err != nil {
				return s, err
			}
			s.Wanted = &f
		}
	}
	if o.Product != nil {
		s.Effect, err = r.effect(*o.Product, s.DewPoint)
	}
	return s, err
}

// points finds a temperature that air may not have.
func (r reckoning) points(find func(quantity.Temperature, quantity.RelativeHumidity) (quantity.Temperature, error)) (p Points, err error) {
	at := func(c sample) (*quantity.Temperature, error) {
		t, err := quantity.Celsius(c.kelvin - freezing)
		if err != nil {
			return nil, err
		}
		h, err := part(c.humidity())
		if err != nil {
			return nil, err
		}
		found, err := find(t, h)
		if tooDry(err) {
			return nil, nil //nolint:nilnil // air so dry has none
		}
		return &found, err
	}
	if p.Value, err = at(r.as); err != nil {
		return p, err
	}
	p.Low, p.High = p.Value, p.Value
	for _, c := range r.corners {
		v, err := at(c)
		switch {
		case err != nil:
			return p, err
		case v == nil:
			p.Low = nil
		case p.High == nil || v.Compare(*p.High) > 0:
			p.High = v
		case p.Low != nil && v.Compare(*p.Low) < 0:
			p.Low = v
		}
	}
	return p, nil
}

func (r reckoning) effect(p Product, dew Points) (*Effect, error) {
	var e Effect
	var err error
	surface := p.Surface.Float()
	if e.Drive, err = over(r, drive, func(c sample) float64 { return surface*saturation(c.kelvin) - c.vapour }); err != nil {
		return nil, err
	}
	if e.Gap, err = over(r, quantity.NewRatio, func(c sample) float64 { return surface - c.humidity() }); err != nil {
		return nil, err
	}
	e.Gains = told(e.Gap.Within.Low.Float() < 0, e.Gap.Within.High.Float() < 0)
	if p.Temperature != nil && p.Temperature.Compare(r.place.Temperature) < 0 {
		drips := told(dew.High != nil && dew.High.Compare(*p.Temperature) > 0, dew.Low != nil && dew.Low.Compare(*p.Temperature) > 0)
		e.Drips = &drips
	}
	if p.Diameter == nil {
		return &e, nil
	}
	metres := p.Diameter.Metres()
	film, err := over(r, quantity.MetresPerSecond, func(c sample) float64 { return conductance(metres, c.kelvin, c.speed) })
	if err != nil {
		return nil, err
	}
	most, err := over(r, quantity.LossPercentPerDay, func(c sample) float64 {
		return mostLoss(metres, c.kelvin, c.speed, surface-c.humidity(), usedDensity)
	})
	e.Film, e.Most = &film, &most
	return &e, err
}

// told answers by whether something is so at the end where it is likeliest, and
// at the other.
func told(perhaps, surely bool) Told {
	switch {
	case surely:
		return Yes
	case perhaps:
		return NotTold
	default:
		return No
	}
}

// Activation of the diffusion of water in a sausage, J/mol: recalled, 25 to 35
// kJ/mol, trust low to medium.
const activationLow, activation, activationHigh, gasConstant = 25e3, 30e3, 35e3, 8.314462618

func compare(o Order, first, other reckoning, one, two State) (c Comparison, err error) {
	if one.Vapour.Value.Kilopascals() > 0 {
		ratio, err := bounded(two.Vapour, one.Vapour, quantity.Pressure.Kilopascals)
		if err != nil {
			return c, err
		}
		c.Vapour = &ratio
	}
	c.Moves = EitherWay
	switch {
	case one.Vapour.Within.Low.Kilopascals() > two.Vapour.Within.High.Kilopascals():
		c.Moves = FromFirst
	case two.Vapour.Within.Low.Kilopascals() > one.Vapour.Within.High.Kilopascals():
		c.Moves = ToFirst
	}
	slower := func(joules, from, to float64) float64 { return math.Exp(-joules / gasConstant * (1/to - 1/from)) }
	low, high := math.Inf(1), math.Inf(-1)
	for _, from := range first.corners {
		for _, to := range other.corners {
			for _, joules := range []float64{activationLow, activationHigh} {
				v := slower(joules, from.kelvin, to.kelvin)
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
	}
	if c.Diffusivity, err = figure(quantity.NewRatio, slower(activation, first.as.kelvin, other.as.kelvin), low, high); err != nil {
		return c, err
	}
	if a, b := one.DewPoint, two.DewPoint; a.Low != nil && b.Low != nil {
		c.DewPoint = &Figure[quantity.TemperatureDelta]{
			Value:  b.Value.Minus(*a.Value),
			Within: quantity.Between[quantity.TemperatureDelta]{Low: b.Low.Minus(*a.High), High: b.High.Minus(*a.Low)},
		}
	}
	if o.Product == nil {
		return c, nil
	}
	if a, b := one.Effect.Film, two.Effect.Film; a != nil {
		f, err := figure(quantity.NewRatio, b.Value.MetresPerSecond()/a.Value.MetresPerSecond(),
			b.Within.Low.MetresPerSecond()/a.Within.High.MetresPerSecond(), b.Within.High.MetresPerSecond()/a.Within.Low.MetresPerSecond())
		if err != nil {
			return c, err
		}
		c.Film = &f
	}
	if a, b := one.Effect.Drive, two.Effect.Drive; a.Value.signed() > 0 {
		ratio, err := bounded(b, a, Drive.signed)
		if err != nil {
			return c, err
		}
		c.Drive = &ratio
	}
	c.Same, err = same(o.Product.Surface, one.Effect.Drive, other)
	return c, err
}

// bounded returns a over b, whose value is positive.
func bounded[T any](a, b Figure[T], in func(T) float64) (r Bounded, err error) {
	if r.Value, err = quantity.NewRatio(in(a.Value) / in(b.Value)); err != nil {
		return r, err
	}
	low, high := in(a.Within.Low), in(a.Within.High)
	least, most := in(b.Within.Low), in(b.Within.High)
	end := func(v float64) (*quantity.Ratio, error) {
		e, err := quantity.NewRatio(v)
		return &e, err
	}
	// What is below nothing is lowest over the least, what is above it over the most.
	switch {
	case least > 0:
		if r.Low, err = end(math.Min(low/most, low/least)); err != nil {
			return r, err
		}
		r.High, err = end(math.Max(high/least, high/most))
	case low >= 0:
		r.Low, err = end(low / most)
	case high <= 0:
		r.High, err = end(high / most)
	}
	return r, err
}

// same returns the humidity that gives a drive in another place.
func same(surface quantity.WaterActivity, wanted Figure[Drive], in reckoning) (*Same, error) {
	at := func(kilopascals, kelvin float64) float64 { return surface.Float() - kilopascals/saturation(kelvin) }
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range in.corners {
		for _, d := range []Drive{wanted.Within.Low, wanted.Within.High} {
			v := at(d.signed(), c.kelvin)
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	value := at(wanted.Value.signed(), in.as.kelvin)
	inside := func(v float64) bool { return v >= 0 && v <= 1 }
	s := Same{Possible: told(low <= 1 && high >= 0, inside(low) && inside(high))}
	if !inside(value) {
		return &s, nil
	}
	f, err := figure(part, value, low, high)
	s.Humidity = &f
	return &s, err
}

// notes returns what a reader must know.
func (o Order) notes(a Answer) []finding.Note {
	var notes []finding.Note
	note := func(code string, member fault.Path, text string, from source.Citation) {
		notes = append(notes, finding.Note{Code: code, Member: member, Text: text, Source: from})
	}
	for i, s := range a.States {
		h, at := s.Place.Humidity, func(member string) fault.Path { return fault.At("places", i, member) }
		if h.Relative != nil && s.Place.Hygrometer == nil {
			note("hygrometer-assumed", at("hygrometer_uncertainty_percent"),
				"The hygrometer is taken to be off by up to "+s.Hygrometer.String()+" either way: check it over a paste of salt and water, and state what yours is off.", hygrometerSource())
		}
		if s.Place.Thermometer == nil {
			note("thermometer-assumed", at("thermometer_uncertainty"),
				"The thermometer is taken to be off by up to 0.5 °C either way: check it in melting ice, and state what yours is off.", source.CommonPractice("a household thermometer that nobody checked"))
		}
		if h.WetBulb != nil {
			note("pressure-assumed", at("wet_bulb"),
				"The wet bulb is read at the standard pressure of 101.325 kPa, with the wick fanned at 3 m/s or more; at 1000 m above the sea the same wick tells of 1 to 2 points more of humidity.", WetBulbSource())
		}
		if h.WetBulb != nil && h.WetBulb.Kelvin() < freezing {
			note("wick-may-be-iced", at("wet_bulb"), "Below 0 °C the wick counts as wet; with ice on it the air holds less than is said.", WetBulbSource())
		}
		if h.Coil != nil {
			note("coil-is-a-mean", at("coil"),
				"Air that leaves a coil saturated is what a closed refrigerator comes to in the mean. It swings from 30 to 60 % where frost is melted off by itself, and is damp for hours after the door was open or wet goods came in: a hygrometer inside tells more.",
				source.CommonPractice("household refrigerators (recalled)"))
		}
		if o.Product != nil && o.Product.Diameter != nil && s.Place.AirSpeed == nil {
			note("air-speed-assumed", at("air_speed_m_per_s"),
				"The air is taken to move at 0.15 m/s, and from 0.05 to 0.5, which is most of what the film and the most of a day may be off.", source.CommonPractice("0.05 to 0.2 m/s in ripening, up to 0.5 early in drying (recalled)"))
		}
		if s.DewPoint.Value != nil && s.DewPoint.Value.Kelvin() < freezing {
			note("frost-before-dew", at("temperature"), "The dew point is below 0 °C and is that over water: frost forms up to a degree or two before.", ColdPressureSource())
		}
	}
	if o.Product != nil && o.Product.Diameter != nil {
		note("film-of-one-piece", fault.At("product", "diameter"),
			"The film is that of one piece across the air, good to 20 %; pieces that hang close shade each other. The most of a day is that of a bare wet surface as warm as the air: real first days are a third or half of it.", FilmSource())
	}
	if len(o.Places) > 1 {
		note("diffusion-recalled", nil,
			"How much slower water moves inside is from a recalled 25 to 35 kJ/mol: trust is low. Once the inside rules, it tells more of the days than the air does.", DiffusionSource())
	}
	return notes
}

// tooDry reports whether a function of this package found no temperature because
// the air is too dry.
func tooDry(err error) bool {
	f, ok := errors.AsType[*fault.Error](err)
	return ok && f.Code == "too-dry"
}

// Sources returns the citations behind an answer.
func Sources() []source.Citation {
	return []source.Citation{PressureSource(), ColdPressureSource(), IceSource(), WetBulbSource(), FilmSource(), DiffusivitySource(), DiffusionSource(), SaltSource()}
}

func hygrometerSource() source.Citation {
	return source.CommonPractice("3 points of a household hygrometer that nobody checked; up to 5 above 80 percent")
}

// DiffusionSource cites how the diffusion of water in a sausage falls with the
// temperature.
func DiffusionSource() source.Citation {
	return source.Citation{
		Title: "Diffusion of water in meat, usual energies of activation", Trust: source.Memory,
		Note: "25 to 35 kJ/mol, low to medium; liquid water has some 20",
	}
}
