package schedule

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// guide cites the published guide to raw sausage.
func guide(note string) source.Citation {
	return source.Citation{
		Title: "Bundesanstalt für Landwirtschaft und Ernährung (Germany), guide to making organic sausage: raw sausage", Section: "ripening (Reifung)",
		Trust: source.Read, Note: note,
	}
}

var gapSource = guide("the air 3 to 5 points under a hundred times the water activity of the sausage: 91 to 93 percent at the start, of about 0.96; less of a gap in faster air. " +
	"Published processes go wider: 22 °C and 90 percent, 19 °C and 88, then 15 °C and 86, in the first four days of a sausage of 65 mm")

// The gap between a hundred times the water activity of the sausage and the air,
// in points, as the guide has it.
const leastGap, mostGap = 3.0, 5.0

// Gap is how far the air of a step is under the sausage, in points of relative
// humidity; below nothing the sausage takes up water.
type Gap struct {
	Points quantity.Ratio
	Within quantity.Between[quantity.Ratio]            // by what the hygrometer and the water activity may be off
	Wanted quantity.Between[quantity.RelativeHumidity] // what the guide would have
	Dry    finding.Status                              // of not being too dry
	Damp   finding.Status                              // of not being too damp
}

// gap returns the gap of a step; false where its humidity is not known.
func (r resolved) gap(s formula.Step) (Gap, bool) {
	h, known := s.Humidity.Get()
	if !known {
		return Gap{}, false
	}
	const hundred = 100
	aw, off := r.batter.WaterActivity.Float()*hundred, r.hygrometer.Percent()
	low := r.batter.Within.Low.Float()*hundred - h.Percent() - off
	high := r.batter.Within.High.Float()*hundred - h.Percent() + off
	g := Gap{
		Points: points(aw - h.Percent()), Within: quantity.Between[quantity.Ratio]{Low: points(low), High: points(high)},
		Dry: keeps(low, high, mostGap, -1), Damp: keeps(low, high, leastGap, 1),
	}
	g.Wanted = quantity.Between[quantity.RelativeHumidity]{Low: humidity(aw - mostGap), High: humidity(aw - leastGap)}
	return g, true
}

// points returns a difference of relative humidity, signed.
func points(p float64) quantity.Ratio {
	const hundred = 100
	r, err := quantity.NewRatio(p / hundred)
	if err != nil { // it is finite
		return quantity.Ratio{}
	}
	return r
}

// keeps holds what lies between two ends against a limit, which it is to be above
// for a sign of one and below for a sign of minus one. Rounding decides nothing.
func keeps(low, high, limit, sign float64) finding.Status {
	const rounding = 1e-9
	worst, best := (low-limit)*sign, (high-limit)*sign
	if sign < 0 {
		worst, best = best, worst
	}
	switch {
	case worst >= -rounding:
		return finding.Met
	case best < -rounding:
		return finding.NotMet
	default:
		return finding.Near
	}
}

// humidity returns a relative humidity, at the end of the scale where it would be
// beyond.
func humidity(percent float64) quantity.RelativeHumidity {
	h, err := quantity.HumidityPercent(math.Min(math.Max(percent, 0), 100))
	if err != nil { // it lies between both ends
		return quantity.RelativeHumidity{}
	}
	return h
}

// judgeHumidity holds the driest and the dampest of the steps against the guide.
func (r resolved) judgeHumidity() []finding.Finding {
	driest, dampest, unknown := -1, -1, []string(nil)
	for i, s := range r.Steps {
		h, known := s.Humidity.Get()
		switch {
		case !known:
			unknown = append(unknown, strconv.Itoa(i+1))
			continue
		case driest < 0 || h.Float() < r.Steps[driest].Humidity.Or(h).Float():
			driest = i
		}
		if dampest < 0 || h.Float() > r.Steps[dampest].Humidity.Or(h).Float() {
			dampest = i
		}
	}
	missing := ""
	if len(unknown) > 0 {
		missing = "no humidity is planned in step " + strings.Join(unknown, ", ")
	}
	return []finding.Finding{r.judgeDry(driest, missing), r.judgeDamp(dampest, missing)}
}

// ofHumidity is what the findings on humidity have in common.
func (r resolved) ofHumidity(code, subject string, i int, missing string) (finding.Finding, Gap, bool) {
	f := finding.Finding{
		Code: code, Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice, Subject: subject, Source: gapSource,
		Reason: missing, Members: [][]string{r.steps()},
	}
	if i < 0 {
		f.Remedy = fmt.Sprintf("Plan a humidity of %s to %s at the start.", r.wanted().Low, r.wanted().High)
		return f, Gap{}, false
	}
	h := r.Steps[i].Humidity.Or(quantity.RelativeHumidity{})
	g, _ := r.gap(r.Steps[i])
	f.Members = [][]string{r.at(i, "relative_humidity_percent")}
	f.Measured = finding.Figure{Value: h.Measure()}
	if off := r.hygrometer.Percent(); off > 0 {
		f.Measured.Range = quantity.Between[quantity.Measure]{Low: humidity(h.Percent() - off).Measure(), High: humidity(h.Percent() + off).Measure()}
	}
	return f, g, true
}

// wanted returns the humidity that the guide would have at the start.
func (r resolved) wanted() quantity.Between[quantity.RelativeHumidity] {
	g, _ := r.gap(formula.Step{Humidity: material.Is(quantity.RelativeHumidity{})})
	return g.Wanted
}

func (r resolved) judgeDry(i int, missing string) finding.Finding {
	f, g, known := r.ofHumidity("air-too-dry", "air that is not so dry that the rim hardens", i, missing)
	if !known {
		return f
	}
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: g.Wanted.Low.Measure(), Printed: "not more than 5 points under the sausage"}
	f.Status, f.Reason = g.Dry, r.under(g)
	switch {
	case g.Dry == finding.Met && missing != "":
		f.Status, f.Reason = finding.NotShown, f.Reason+"; but "+missing
	case g.Dry == finding.NotMet:
		f.Reason += ": the rim dries faster than water comes from inside, and a dry ring closes it"
		f.Remedy = fmt.Sprintf("Plan at least %s there, or watch the rim and the weight, and damp the air when it loses fast.", g.Wanted.Low)
	case g.Dry == finding.Near:
		f.Remedy = r.better()
	}
	return f
}

func (r resolved) judgeDamp(i int, missing string) finding.Finding {
	f, g, known := r.ofHumidity("air-too-damp", "air that is not so damp that it stays wet", i, missing)
	if !known {
		return f
	}
	f.Limit = finding.Limit{Comparator: rulebook.AtMost.String(), Value: g.Wanted.High.Measure(), Printed: "not less than 3 points under the sausage"}
	f.Status, f.Reason = g.Damp, r.under(g)
	switch {
	case g.Damp == finding.Met && missing != "":
		f.Status, f.Reason = finding.NotShown, f.Reason+"; but "+missing
	case g.Damp == finding.NotMet && g.Points.Percent() <= 0:
		f.Reason += ": nothing dries, the surface stays wet and slime grows"
		f.Remedy = fmt.Sprintf("Plan at most %s there.", g.Wanted.High)
	case g.Damp == finding.NotMet:
		f.Reason += ": it hardly dries, and the surface may turn slimy"
		f.Remedy = fmt.Sprintf("Plan at most %s there.", g.Wanted.High)
	case g.Damp == finding.Near:
		f.Remedy = r.better()
	}
	return f
}

// under says how far the air is under the sausage.
func (r resolved) under(g Gap) string {
	return fmt.Sprintf("the air is %.3g points under the %.4g of a water activity of %.3f, from %.3g to %.3g with what the hygrometer and the water activity may be off",
		g.Points.Percent(), r.batter.WaterActivity.Float()*100, r.batter.WaterActivity.Float(), g.Within.Low.Percent(), g.Within.High.Percent())
}

// better says what would tell.
func (r resolved) better() string {
	text := fmt.Sprintf("Check the hygrometer over a paste of salt and water, which is at 75 %%: it is taken to be off by %.3g points", r.hygrometer.Percent())
	if r.batter.Origin != Measured {
		text += "; and measure the water activity of the batter"
	}
	return text + "."
}

// Dew is what the dew point of a step is, and how warm the sausage is when it
// comes into it.
type Dew struct {
	Point quantity.Temperature
	Piece material.Known[quantity.Temperature]
}

// dew returns the dew point of a step; false where it is not known.
func (r resolved) dew(i int) (Dew, bool) {
	h, known := r.Steps[i].Humidity.Get()
	if !known {
		return Dew{}, false
	}
	point, err := air.DewPoint(temperatureOf(r.Steps[i]), h)
	if err != nil { // air too dry to have one
		return Dew{}, false
	}
	d := Dew{Point: point, Piece: r.AtStart}
	if i > 0 {
		d.Piece = r.Steps[i-1].Temperature
	}
	return d, true
}

var dewSource = source.Citation{
	Title: "Dew point of the air, from the saturation pressure of water (IAPWS 1995)", Trust: source.Derived,
	Note: "water settles on what is colder than the dew point; how long until the sausage is warmer is not computed",
}

// judgeCondensation looks for water that settles on a sausage which comes from
// the cold into warmer air: at the start, and wherever a step is warmer than the
// one before.
func (r resolved) judgeCondensation() finding.Finding {
	f := finding.Finding{
		Code: "condensation", Status: finding.Met, Stage: finding.Process, Authority: finding.Practice,
		Subject: "no water that settles on the sausage", Source: dewSource, Members: [][]string{r.steps()},
		Reason: "nowhere does the sausage come from the cold into air whose dew point is above it",
	}
	worst, unknown := math.Inf(-1), ""
	for i, s := range r.Steps {
		before := r.AtStart
		if i > 0 {
			before = r.Steps[i-1].Temperature
		}
		piece, known := before.Get()
		t := temperatureOf(s)
		h, humid := s.Humidity.Get()
		switch {
		case known && t.Compare(piece) <= 0:
			continue // it comes into cooler air, or none that is warmer
		case !known:
			unknown = "how warm the sausage is when it comes into the first step is not stated"
			continue
		case !humid:
			unknown = fmt.Sprintf("no humidity is planned in step %d, which is warmer than what the sausage comes from", i+1)
			continue
		}
		status, excess := r.condenses(piece, t, h)
		if excess <= worst {
			continue
		}
		worst, f.Status = excess, status
		r.sayCondensation(&f, i, piece, h)
	}
	if unknown != "" && f.Status == finding.Met {
		f.Status, f.Reason = finding.NotShown, unknown
		f.Remedy = "State the start_temperature, and the humidity of each step that is warmer than the one before."
		f.Measured, f.Limit = finding.Figure{}, finding.Limit{}
	}
	return f
}

// condenses holds the dew point of warmer air against the temperature of a
// sausage, each with what the instruments may be off, and returns how far it is
// above it in °C.
func (r resolved) condenses(piece, t quantity.Temperature, h quantity.RelativeHumidity) (finding.Status, float64) {
	off := r.thermometer
	high := dewPoint(shifted(t, off), humidity(h.Percent()+r.hygrometer.Percent()))
	low := dewPoint(shifted(t, off.Negative()), humidity(h.Percent()-r.hygrometer.Percent()))
	excess := dewPoint(t, h).Minus(piece).CelsiusDegrees()
	switch {
	case low.Compare(shifted(piece, off)) > 0:
		return finding.NotMet, excess
	case high.Compare(shifted(piece, off.Negative())) <= 0:
		return finding.Met, excess
	default:
		return finding.Near, excess
	}
}

// dewPoint returns the dew point, -40 °C for air so dry that it has none above.
func dewPoint(t quantity.Temperature, h quantity.RelativeHumidity) quantity.Temperature {
	point, err := air.DewPoint(t, h)
	if err != nil {
		return quantity.MustCelsius(-40)
	}
	return point
}

// sayCondensation puts a step into words.
func (r resolved) sayCondensation(f *finding.Finding, i int, piece quantity.Temperature, h quantity.RelativeHumidity) {
	t := temperatureOf(r.Steps[i])
	point := dewPoint(t, h)
	there, errThere := air.SaturationPressure(t)
	here, errHere := air.SaturationPressure(piece)
	if errThere != nil || errHere != nil {
		return
	}
	f.Members = [][]string{r.at(i, "relative_humidity_percent")}
	if i == 0 {
		f.Members = append(f.Members, fault.At("start_temperature"))
	}
	f.Measured = finding.Figure{Value: point.In(quantity.UnitDegC)}
	f.Limit = finding.Limit{Comparator: rulebook.AtMost.String(), Value: piece.In(quantity.UnitDegC), Printed: "the temperature of the sausage"}
	f.Remedy = ""
	f.Reason = fmt.Sprintf("air of %.4g °C and %s has its dew point at %.3g °C, and the sausage comes into it at %.4g °C", t.Celsius(), h, point.Celsius(), piece.Celsius())
	if f.Status != finding.Met {
		f.Reason += ": water settles on it until it is warmer than that, and a wet casing spoils and takes no smoke"
		f.Remedy = fmt.Sprintf("Let it come up first, in air of at most %.2g %% at that temperature, or stepwise; and hang it apart, in moving air.",
			100*here.Kilopascals()/there.Kilopascals())
	}
}
