package api

import (
	"cmp"
	"context"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// fermentationCautions stand in every answer on fermentation.
var fermentationCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"Degree-hours speak of Staphylococcus aureus alone. They say nothing of Escherichia coli, Salmonella, Listeria, Clostridium botulinum or parasites: those need their own proof. " +
		"Ask /v1/pathogens/check what a plan and what was measured say of them.",
	"They judge the chamber where it was measured, and the piece whose pH was read: the warmest place and the slowest piece decide.",
	"The toxin of Staphylococcus aureus survives cooking. A lot that was warm for too long is held, and the authority asked, however it looks and smells.",
}

// CheckDegreeHours answers POST /v1/fermentation/degree-hours.
func (h *handlers) CheckDegreeHours(ctx context.Context, req openapi.CheckDegreeHoursRequestObject) (openapi.CheckDegreeHoursResponseObject, error) {
	course, err := h.readCourse(*req.Body)
	if err != nil {
		return nil, err
	}
	exposure, err := fermentation.DegreeHours(course)
	if err != nil {
		return nil, timelineOf(*req.Body).onWire(err)
	}
	return answerDegreeHours(ctx, *req.Body, course, exposure, unitsOf(req.Params.Units))
}

func (h *handlers) readCourse(w openapi.DegreeHoursOrder) (fermentation.Course, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	course := readChamber(&bad, timelineOf(w), w)
	return course, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// readChamber reads the temperatures and what was read of the pH.
func readChamber(bad *fault.Collector, line timeline, w openapi.DegreeHoursOrder) fermentation.Course {
	course := fermentation.Course{Held: w.BetweenReadings != nil && *w.BetweenReadings == openapi.DegreeHoursOrderBetweenReadingsHeld}
	for i, s := range w.Steps {
		course.Steps = append(course.Steps, fermentation.Step{
			Temperature: readTemperature(bad, fault.At("steps", i, "temperature"), s.Temperature), Span: inHours(s.Hours),
		})
	}
	for i, r := range w.Log {
		course.Log = append(course.Log, fermentation.Reading{
			At: r.At.Sub(line.start), Temperature: readTemperature(bad, fault.At("log", i, "temperature"), r.Temperature),
		})
	}
	if w.LongestGapHours != nil {
		course.LongestGap = max(inHours(*w.LongestGapHours), 1) // none would be the default
	}
	if w.ClockStart != nil {
		course.ClockStart = line.read(*w.ClockStart)
	}
	if w.StatedEnd != nil {
		course.StatedEnd = pointerTo(line.read(*w.StatedEnd))
	}
	for i, r := range w.PHReadings {
		course.PHReadings = append(course.PHReadings, readPH(bad, fault.At("ph_readings", i), line, r))
	}
	if w.PlannedTemperature != nil {
		course.Planned = readTemperature(bad, fault.At("planned_temperature"), *w.PlannedTemperature)
	}
	if d := w.ThermometerUncertainty; d != nil {
		course.Thermometer = pointerTo(readIn(bad, fault.At("thermometer_uncertainty"), differencePerUnit, d.Value, d.Unit))
	}
	if w.Rulebook != nil {
		course.Rulebook, _ = rulebook.ParseJurisdiction(string(*w.Rulebook))
	}
	return course
}

// inHours returns a time of so many hours, which the contract keeps within what
// a time.Duration can hold.
func inHours(hours float64) time.Duration {
	return time.Duration(math.Round(hours * float64(time.Hour)))
}

// readPH reads a pH with both ends of what it may be; an end beyond the scale is
// that of the scale.
func readPH(bad *fault.Collector, path fault.Path, line timeline, w openapi.PHReading) fermentation.PHReading {
	r := fermentation.PHReading{At: line.read(openapi.StatedTime{AfterHours: w.AfterHours, At: w.At})}
	at := fault.At("ph").Under(path)
	read := func(v float64) quantity.PH {
		const lowest, highest = 0, 14
		ph, err := quantity.NewPH(min(max(v, lowest), highest))
		bad.AddError(at, codeInvalidValue, err)
		return ph
	}
	r.PH = read(w.Ph)
	if off := w.UncertaintyPh; off != nil {
		r.Within = quantity.Between[quantity.PH]{Low: read(w.Ph - *off), High: read(w.Ph + *off)}
	}
	return r
}

// timeline turns the times of a fermentation into those of the question: hours
// from the start of its steps, or the moments of its log.
type timeline struct {
	steps bool
	start time.Time // of a log, in the offset of its first reading
}

func timelineOf(w openapi.DegreeHoursOrder) timeline {
	line := timeline{steps: len(w.Steps) > 0}
	if len(w.Log) > 0 {
		line.start = inOffset(w.Log[0].At)
	}
	return line
}

// read returns a time of the question.
func (l timeline) read(w openapi.StatedTime) time.Duration {
	switch {
	case w.AfterHours != nil:
		return inHours(*w.AfterHours)
	case w.At != nil:
		return w.At.Sub(l.start)
	default: // the rules have refused it
		return 0
	}
}

// at returns a time, of a log to the second.
func (l timeline) at(d time.Duration) openapi.CourseTime {
	w := openapi.CourseTime{AfterHours: shown(d.Hours())}
	if !l.start.IsZero() {
		w.At = pointerTo(l.start.Add(d).Round(time.Second))
	}
	return w
}

// orNone returns nil for a time that there is not.
func (l timeline) orNone(d *time.Duration) *openapi.CourseTime {
	if d == nil {
		return nil
	}
	return pointerTo(l.at(*d))
}

// member returns the path of a member by the names of the question, which has
// the time of a pH beside steps as after_hours and not as at.
func (l timeline) member(path fault.Path) fault.Path {
	const readings, depth = "ph_readings", 3
	if !l.steps || len(path) != depth || path[0] != readings || path[depth-1] != "at" {
		return path
	}
	return fault.At(readings, path[1], "after_hours")
}

func (l timeline) pointer(path []string) openapi.Pointer { return l.member(path).Pointer() }

// onWire returns a fault of the domain with its members named as in the
// question.
func (l timeline) onWire(err error) error {
	return renamed(err, l.member)
}

// answerDegreeHours writes the answer as what the client accepts.
func answerDegreeHours(
	ctx context.Context, asked openapi.DegreeHoursOrder, c fermentation.Course, e fermentation.Exposure, u units,
) (openapi.CheckDegreeHoursResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := draw(degreeHoursChart(c, e).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.CheckDegreeHours200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := draw(degreeHoursChart(c, e).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.CheckDegreeHours200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.CheckDegreeHours200JSONResponse{Body: writeDegreeHoursAnswer(timelineOf(asked), c, e, u)}, nil
}

func writeDegreeHoursAnswer(line timeline, c fermentation.Course, e fermentation.Exposure, u units) openapi.DegreeHoursAnswer {
	thermometer := fermentation.DefaultThermometer()
	if c.Thermometer != nil {
		thermometer = *c.Thermometer
	}
	w := openapi.DegreeHoursAnswer{
		RulebookVersion: rulebook.Version(), ThermometerUncertainty: u.temperatureDifference(thermometer), Clock: writeClock(line, e.Clock),
		Gaps: writeGaps(line, e, u), Growth: writeGrowth(e.Growth), Stricter: ruleOf(e.Stricter), Findings: writeFindings(e.Findings, line.pointer), Notes: writeNotes(e.Notes, line.pointer),
		Cautions: fermentationCautions,
	}
	if len(c.Log) > 0 {
		w.LongestGapHours = pointerTo(shown(cmp.Or(c.LongestGap, fermentation.DefaultLongestGap).Hours()))
	}
	if e.Deciding != "" {
		w.Decides = pointerTo(ruleOf(e.Deciding))
	}
	for _, s := range e.Sums {
		switch s.Set.Scale {
		case rulebook.FahrenheitScale:
			w.Fahrenheit = writeFahrenheitSum(line, s)
		case rulebook.CelsiusScale:
			w.Celsius = writeCelsiusSum(line, s)
		}
	}
	return w
}

// ruleOf returns the word for the rule with an id.
func ruleOf(id string) openapi.DegreeHourRule {
	if set, ok := rulebook.DegreeHourSetByID(id); ok && set.Scale == rulebook.CelsiusScale {
		return openapi.DegreeHourRuleCelsius
	}
	return openapi.DegreeHourRuleFahrenheit
}

func writeClock(line timeline, c fermentation.Clock) openapi.AcidClock {
	w := openapi.AcidClock{
		Start: line.at(c.Start), Ended: c.Ended(), End: line.at(c.End), Counted: line.at(c.Counted), Covered: c.Covered(),
		EstimatedEnd: line.orNone(c.Estimated), StatedEnd: line.orNone(c.Stated),
	}
	reading := func(i int) *openapi.Pointer {
		if i < 0 {
			return nil
		}
		return pointerTo(fault.At("ph_readings", i).Pointer())
	}
	w.EndedBy, w.SurelyEndedBy = reading(c.Reading), reading(c.Sure)
	return w
}

func writeFahrenheitSum(line timeline, s fermentation.Sum) openapi.FahrenheitSum {
	in := func(d quantity.DegreeHours) float64 { return shown(d.FahrenheitHours()) }
	return openapi.FahrenheitSum{
		RuleID: s.Set.ID, Rulebook: openapi.RulebookKey(s.Set.Jurisdiction.String()), Base: inScale(s.Set.Scale, s.Set.Base),
		AccumulatedDegfHours: writeDegreeHourRange(s, in), StepsDegfHours: writeDegreeHours(s.Steps, in),
		JoinedDegfHours: writeJoined(s, in), EstimatedDegfHours: writeOptional(s.Estimated, in), StatedDegfHours: writeOptional(s.Stated, in),
		HourMean: writeHourMean(line, s), IfHotter: writeFahrenheitHeadroom(s), LimitDegfHours: in(s.Class.Limit), RemainingDegfHours: in(s.Remaining),
		UsedPercent: shown(s.Used.Percent()), Class: writeDegreeHourClass(s.Set, s.Class), IfWarmer: writeDegreeHourClass(s.Set, s.IfWarmer),
		Highest: writeHighest(line, s), AboveBaseHours: shown(s.AboveBase.Hours()), AboveBaseFrom: line.orNone(s.AboveBaseAt),
		LimitReached: line.orNone(s.ReachedAt), TimeLeft: writeTimesLeft(s), Longest: writeLongestTable(s.Set),
		LongestAtHighest: writeLongestAtHighest(s), Source: writeCitation(s.Set.Source), Note: optional[openapi.Text](s.Set.Note),
	}
}

func writeCelsiusSum(line timeline, s fermentation.Sum) openapi.CelsiusSum {
	in := func(d quantity.DegreeHours) float64 { return shown(d.CelsiusHours()) }
	return openapi.CelsiusSum{
		RuleID: s.Set.ID, Rulebook: openapi.RulebookKey(s.Set.Jurisdiction.String()), Base: inScale(s.Set.Scale, s.Set.Base),
		AccumulatedDegcHours: writeDegreeHourRange(s, in), StepsDegcHours: writeDegreeHours(s.Steps, in),
		JoinedDegcHours: writeJoined(s, in), EstimatedDegcHours: writeOptional(s.Estimated, in), StatedDegcHours: writeOptional(s.Stated, in),
		HourMean: writeHourMean(line, s), IfHotter: writeCelsiusHeadroom(s), LimitDegcHours: in(s.Class.Limit), RemainingDegcHours: in(s.Remaining),
		UsedPercent: shown(s.Used.Percent()), Class: writeDegreeHourClass(s.Set, s.Class), IfWarmer: writeDegreeHourClass(s.Set, s.IfWarmer),
		Highest: writeHighest(line, s), AboveBaseHours: shown(s.AboveBase.Hours()), AboveBaseFrom: line.orNone(s.AboveBaseAt),
		LimitReached: line.orNone(s.ReachedAt), TimeLeft: writeTimesLeft(s), Longest: writeLongestTable(s.Set),
		LongestAtHighest: writeLongestAtHighest(s), Source: writeCitation(s.Set.Source), Note: optional[openapi.Text](s.Set.Note),
	}
}

// writeJoined returns nil where gaps add nothing.
func writeJoined(s fermentation.Sum, in func(quantity.DegreeHours) float64) *float64 {
	if s.Joined.Compare(s.DegreeHours) == 0 {
		return nil
	}
	return pointerTo(in(s.Joined))
}

func writeGaps(line timeline, e fermentation.Exposure, u units) []openapi.LogGap {
	var w []openapi.LogGap
	for _, g := range e.Gaps {
		gap := openapi.LogGap{From: line.at(g.From), To: line.at(g.To), Temperature: u.temperature(g.Temperature)}
		for i, adds := range g.Adds {
			switch e.Sums[i].Set.Scale {
			case rulebook.FahrenheitScale:
				gap.AddedDegfHours = shown(adds.FahrenheitHours())
			case rulebook.CelsiusScale:
				gap.AddedDegcHours = shown(adds.CelsiusHours())
			}
		}
		w = append(w, gap)
	}
	return w
}

func writeGrowth(g fermentation.Growth) openapi.GrowthIndex {
	return openapi.GrowthIndex{
		Index: shown(g.Index.Float()), UsualLowIndex: shown(g.Usual.Low.Float()), UsualHighIndex: shown(g.Usual.High.Float()), Source: writeCitation(g.Source),
	}
}

func writeHourMean(line timeline, s fermentation.Sum) *openapi.HourMean {
	m := s.HourMean
	if m == nil {
		return nil
	}
	return &openapi.HourMean{
		Temperature: inScale(s.Set.Scale, m.Temperature), From: line.at(m.From), OverHours: shown(m.Over.Hours()), Class: writeDegreeHourClass(s.Set, m.Class),
	}
}

func writeFahrenheitHeadroom(s fermentation.Sum) *openapi.FahrenheitHeadroom {
	h := s.IfHotter
	if h == nil {
		return nil
	}
	return &openapi.FahrenheitHeadroom{
		Class: writeDegreeHourClass(s.Set, h.Class), Edge: inScale(s.Set.Scale, h.Edge), AboveEdge: h.EdgeCooler,
		LimitDegfHours: shown(h.Class.Limit.FahrenheitHours()), RemainingDegfHours: shown(h.Remaining.FahrenheitHours()), Hours: shown(h.Left.Hours()),
	}
}

func writeCelsiusHeadroom(s fermentation.Sum) *openapi.CelsiusHeadroom {
	h := s.IfHotter
	if h == nil {
		return nil
	}
	return &openapi.CelsiusHeadroom{
		Class: writeDegreeHourClass(s.Set, h.Class), Edge: inScale(s.Set.Scale, h.Edge), AboveEdge: h.EdgeCooler,
		LimitDegcHours: shown(h.Class.Limit.CelsiusHours()), RemainingDegcHours: shown(h.Remaining.CelsiusHours()), Hours: shown(h.Left.Hours()),
	}
}

// inScale writes a temperature in the scale of a rule.
func inScale(scale rulebook.Scale, t quantity.Temperature) openapi.Temperature {
	return units{us: scale == rulebook.FahrenheitScale}.temperature(t)
}

func writeDegreeHourRange(s fermentation.Sum, in func(quantity.DegreeHours) float64) openapi.DegreeHourRange {
	return openapi.DegreeHourRange{Value: in(s.DegreeHours), Low: in(s.Range.Low), High: in(s.Range.High)}
}

func writeDegreeHours(amounts []quantity.DegreeHours, in func(quantity.DegreeHours) float64) []openapi.DegreeHourAmount {
	var w []openapi.DegreeHourAmount
	for _, d := range amounts {
		w = append(w, in(d))
	}
	return w
}

func writeOptional(d *quantity.DegreeHours, in func(quantity.DegreeHours) float64) *float64 {
	if d == nil {
		return nil
	}
	return pointerTo(in(*d))
}

func writeDegreeHourClass(set rulebook.DegreeHourSet, c rulebook.DegreeHourClass) openapi.DegreeHourClass {
	w := openapi.DegreeHourClass{Highest: c.Highest, Limit: openapi.FindingLimit{
		Comparator: openapi.Comparator(set.Comparator.String()), Value: shown(c.Limit.CelsiusHours()), Unit: openapi.FigureUnitDegcHours, Printed: c.Printed,
	}}
	if set.Scale == rulebook.FahrenheitScale {
		w.Limit.Value, w.Limit.Unit = shown(c.Limit.FahrenheitHours()), openapi.FigureUnitDegfHours
	}
	if !c.UpTo.IsZero() {
		w.UpTo, w.UpToIncluded = pointerTo(inScale(set.Scale, c.UpTo)), pointerTo(c.UpToBelongs)
	}
	return w
}

func writeHighest(line timeline, s fermentation.Sum) *openapi.HighestTemperature {
	if s.Highest.IsZero() {
		return nil
	}
	return &openapi.HighestTemperature{Temperature: inScale(s.Set.Scale, s.Highest), First: line.at(s.HighestAt)}
}

func writeTimesLeft(s fermentation.Sum) *openapi.TimesLeft {
	if s.AtPresent == nil {
		return nil
	}
	w := &openapi.TimesLeft{Present: writeTimeLeft(s.Set, *s.AtPresent)}
	if s.AtPlanned != nil {
		w.Planned = pointerTo(writeTimeLeft(s.Set, *s.AtPlanned))
	}
	return w
}

func writeTimeLeft(set rulebook.DegreeHourSet, l fermentation.TimeLeft) openapi.TimeLeft {
	w := openapi.TimeLeft{
		Temperature: inScale(set.Scale, l.Temperature), Class: writeDegreeHourClass(set, l.Class), AtLeastHours: writeHours(l.Surely),
	}
	w.Hours, w.Never = writeHours(l.Left), never(l.Left)
	return w
}

// writeHours returns nil for a time that does not end.
func writeHours(d *time.Duration) *openapi.LongHours {
	if d == nil {
		return nil
	}
	return pointerTo(shown(d.Hours()))
}

// never returns true for a time that does not end, and nil for one that does.
func never(d *time.Duration) *bool {
	if d != nil {
		return nil
	}
	return pointerTo(true)
}

func writeLongestTable(set rulebook.DegreeHourSet) openapi.LongestTimes {
	table := fermentation.LongestTable(set)
	w := make(openapi.LongestTimes, 0, len(table))
	for _, l := range table {
		w = append(w, writeLongest(set, l))
	}
	return w
}

func writeLongestAtHighest(s fermentation.Sum) *openapi.LongestTime {
	if s.Longest == nil {
		return nil
	}
	return pointerTo(writeLongest(s.Set, *s.Longest))
}

func writeLongest(set rulebook.DegreeHourSet, l fermentation.Longest) openapi.LongestTime {
	return openapi.LongestTime{
		Temperature: inScale(set.Scale, l.Temperature), Hours: writeHours(l.Time), Never: never(l.Time), By: ruleOf(l.By),
	}
}
