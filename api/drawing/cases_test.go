package drawing

import (
	"math"
	"slices"
	"time"
)

// namedChart is a chart of invented data.
type namedChart struct {
	name  string
	chart Chart
	scene func() (*scene, error)
}

// charts are the cases that every property of a picture is checked on.
func charts() []namedChart {
	var all []namedChart
	for _, c := range degreeHours() {
		all = append(all, namedChart{"degree-hours " + c.name, c.chart, c.chart.scene})
	}
	for _, c := range dryDowns() {
		all = append(all, namedChart{"dry-down " + c.name, c.chart, c.chart.scene})
	}
	for _, c := range profiles() {
		all = append(all, namedChart{"profiles " + c.name, c.chart, c.chart.scene})
	}
	for _, c := range falls() {
		all = append(all, namedChart{"acidification " + c.name, c.chart, c.chart.scene})
	}
	for _, c := range roomAirs() {
		all = append(all, namedChart{"room air " + c.name, c.chart, c.chart.scene})
	}
	for _, c := range comparisons() {
		all = append(all, namedChart{"comparison " + c.name, c.chart, c.chart.scene})
	}
	return all
}

type roomAirCase struct {
	name  string
	chart RoomAir
}

// magnus is the pressure of saturated air in kPa, roughly, at so many °C.
func magnus(celsius float64) float64 { return 0.6112 * math.Exp(17.62*celsius/(243.12+celsius)) }

// roomAirs are a room of 13 °C and 75 percent, and what it is held against: 0.75 of
// 1.497 kPa are 1.123.
func roomAirs() []roomAirCase {
	air := func(name string, celsius, percent, off float64) AirPlace {
		v := percent / 100 * magnus(celsius)
		return AirPlace{
			Name: name, Temperature: celsius, Vapour: v, Humidity: percent, Temperatures: Span{celsius - off, celsius + off},
			Vapours: Span{v * 0.95, v * 1.05},
		}
	}
	base := RoomAir{Scale: Celsius, Places: []AirPlace{air("Invented room", 13, 75, 0.5)}}
	for t := -40.0; t <= 80; t++ {
		base.Saturation = append(base.Saturation, VapourPoint{t, magnus(t)})
	}
	with := func(places ...AirPlace) RoomAir {
		c := base
		c.Places = places
		return c
	}
	dries := func(c RoomAir, surface float64) RoomAir {
		c.Surface = &surface
		c.Places = slices.Clone(c.Places)
		for i, p := range c.Places {
			d := surface*magnus(p.Temperature) - p.Vapour
			c.Places[i].Drive = &Drive{d, Span{d - 0.05, d + 0.05}}
		}
		return c
	}
	var many, alike []AirPlace
	for i := range 12 {
		many = append(many, air("Invented place "+string(rune('A'+i)), 2+float64(i), 60+2*float64(i), 0.5))
		alike = append(alike, air("The same place", 13, 75, 0.5))
	}
	fahrenheit := with(AirPlace{Name: "Attic", Temperature: 55, Vapour: 1.1, Humidity: 75, Temperatures: Span{54, 56}, Vapours: Span{1, 1.2}})
	fahrenheit.Scale = Fahrenheit
	fahrenheit.Saturation = []VapourPoint{{-40, 0.02}, {32, 0.61}, {55, 1.47}, {70, 2.5}, {176, 47}}
	return []roomAirCase{
		{"one", base}, {"one that dries", dries(base, 0.9)}, {"one that wets", dries(base, 0.6)},
		{"room and refrigerator", dries(with(air("Invented room", 13, 75, 0.5), air("Invented refrigerator", 4, 49, 0.5)), 0.9)},
		{"two without a product", with(air("Invented room", 13, 75, 0), air("Invented yard", 24, 40, 1))},
		{"none dries", dries(with(air("Invented fog", 13, 100, 0), air("Invented cloud", 11, 99, 0)), 0.8)},
		{"many", dries(with(many...), 0.9)}, {"all alike", dries(with(alike...), 0.9)},
		{"bone-dry and hot", dries(with(air("Invented kiln", 60, 0, 5), air("Invented freezer", -30, 100, 5)), 0.9)},
		{"long names", dries(with(air("Würstchen <b>„Żółć“</b> & Σαλάμι Колбаса\u202e\x00 sehr lang, sehr lang, sehr lang, sehr lang", 13, 75, 0.5), air("", 8, 60, 0.5)), 0.9)},
		{"Fahrenheit", fahrenheit},
	}
}

type acidificationCase struct {
	name  string
	chart Acidification
}

// falls are a fermentation at 22 °C with and without its degree-hours: 6.4 °C above
// 15.6 °C, so 128 °C h after 20 h and 665 °C h after 103.9 h.
func falls() []acidificationCase {
	around := func(v, off float64) Span { return Span{v - off, v + off} }
	base := Acidification{
		Subject: "Invented lot 9", Outcome: AcidProjected, Scale: Celsius, PH: 5.3, Now: 20, Limit: new(103.9),
		Readings: []PHPoint{{PH: 5.8, Off: around(5.8, 0.1)}, {Hours: 20, PH: 5.47, Off: around(5.47, 0.1)}},
		Chamber:  []Reading{{0, 22}, {48, 22}},
		Time:     &TargetTime{30, around(30, 2), around(30, 5), Span{24, math.Inf(1)}},
	}
	for h := 0.0; h <= 48; h += 4 {
		v := 5.8 - h/60
		base.Course = append(base.Course, AcidPoint{h, v, around(v, 0.05), around(v, 0.1), around(v, 0.2), 20})
	}
	sum := base
	sum.Sum = &SumPanel{
		Scale: Celsius, Base: 15.6, Limit: 665, Sum: []SumPoint{{0, 0}, {20, 128}},
		Range: []RangePoint{{0, 0, 0}, {20, 118, 138}}, Ahead: []SumPoint{{20, 128}, {48, 307.2}},
	}
	read := sum
	read.Outcome, read.Time, read.Read, read.Now = AcidThere, nil, 36, 36
	read.Readings = append(read.Readings[:2:2], PHPoint{Hours: 36, PH: 5.2, Off: around(5.2, 0.1)})
	past := sum
	past.Sum = &SumPanel{Scale: Celsius, Base: 15.6, Limit: 100, Sum: sum.Sum.Sum}
	past.Limit = new(15.625)
	return []acidificationCase{{"without a sum", base}, {"with a sum", sum}, {"read", read}, {"past the limit", past}}
}

type degreeHoursCase struct {
	name  string
	chart DegreeHours
}

// held is a chamber held at a temperature in °F above a base of 60 °F, with what
// that sums up to by hand: excess times hours.
func held(temperature, hours float64) DegreeHours {
	return DegreeHours{
		Subject: "Invented lot 7", Rule: "United States", State: "within the limit so far", Scale: Fahrenheit, Base: 60, Limit: 1200,
		Sum:     []SumPoint{{0, 0}, {hours, (temperature - 60) * hours}},
		Chamber: []Reading{{0, temperature}, {hours, temperature}},
	}
}

func degreeHours() []degreeHoursCase {
	running := held(75, 40) // 600 °F h; 600 more take 40 h
	running.Range = []RangePoint{{0, 0, 0}, {40, 520, 680}}
	running.RunOn = &RunOn{Temperature: 75, LimitHours: 80}

	ended := held(78, 44) // 792 °F h
	ended.State = "pH 5.3 came in time"
	ended.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: 44, CrossedHours: new(41.5)}
	ended.Range = []RangePoint{{0, 0, 0}, {44, 792 - 44, 792 + 44}}
	ended.Chamber = append(ended.Chamber, Reading{44, 58}, Reading{120, 56})

	exceeded := held(90, 60) // 1800 °F h
	exceeded.Limit = 1000
	exceeded.State = "limit exceeded"
	exceeded.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: 60, CrossedHours: new(58.75)}

	far := held(95, 200) // 7000 °F h
	far.Limit = 900
	far.State = "limit exceeded, pH 5.3 not read"

	atLimit := held(75, 80)
	atLimit.State = "at the limit, pH 5.3 not read"
	atLimit.RunOn = &RunOn{Temperature: 75, LimitHours: 80}

	started := held(70, 0)
	started.State = "just started"
	started.RunOn = &RunOn{Temperature: 70, LimitHours: 120}

	hour := held(70, 0.5) // 5 °F h
	hour.RunOn = &RunOn{Temperature: 70, LimitHours: 120}
	hour.Subject = ""

	cool := held(60.5, 30) // 15 °F h; 1185 more take 2370 h
	cool.RunOn = &RunOn{Temperature: 60.5, LimitHours: 2400}

	never := held(55, 30)
	never.State = "the chamber was never above the base"
	never.Sum[1].DegreeHours = 0

	both := held(75, 40)
	both.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: 39, CrossedHours: new(2.0)}
	both.RunOn = &RunOn{Temperature: 75, LimitHours: 80}

	late := held(75, 40)
	late.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: 40, CrossedHours: new(39.8)}

	names := held(75, 40)
	names.Subject = "Würstchen <b>„Żółć“</b> & Σαλάμι Колбаса\u202e\x00\x1b[31m нож " + "sehr lang, sehr lang, sehr lang, sehr lang, sehr lang"
	names.Rule = "A set of rules with a very long name that goes on and on until it does not fit on a line any more"
	names.State = "within the limit so far, which is also said in very many words"

	gap := held(75, 40) // 15 °F for 10 h, 25 taken for 20 h, 25 for 10 h
	gap.State = "not shown"
	gap.Sum = []SumPoint{{0, 0}, {10, 150}, {30, 650}, {40, 900}}
	gap.Chamber = []Reading{{0, 75}, {10, 75}, {10, 85}, {30, 85}, {40, 85}}
	gap.Gaps = []Gap{{10, 30}}

	gaps := gap
	gaps.Gaps = []Gap{{0, 10}, {10, 30}, {35, 60}}

	return []degreeHoursCase{
		{"gap", gap}, {"gaps to both ends", gaps},
		{"running", running}, {"ended", ended}, {"exceeded", exceeded}, {"far past", far}, {"at the limit", atLimit},
		{"just started", started}, {"half an hour", hour}, {"cool", cool}, {"never above", never}, {"three flags", both},
		{"flags together", late}, {"long names", names}, {"log of 2000", logged(2000)}, {"log of 30000", logged(30000)},
	}
}

// logged is a chamber in °C read every few minutes, which swings around 22 with a
// spike in it, and sums up by trapezia.
func logged(n int) DegreeHours {
	c := DegreeHours{
		Subject: "Invented lot 8, 26 kg in 60 mm casings", Rule: "Canada", State: "pH 5.3 came in time", Scale: Celsius, Base: 15.6, Limit: 665,
	}
	const hours = 66.0
	sum := 0.0
	for i := range n {
		h := hours * float64(i) / float64(n-1)
		t := 22 + 1.5*math.Sin(h*1.9) + 0.4*math.Sin(h*17) - 7*math.Exp(-h/5)
		if i == n/3 {
			t = 27.5 // a door stood open
		}
		if i > 0 {
			was := c.Chamber[i-1]
			sum += math.Max(0, (was.Temperature+t)/2-c.Base) * (h - was.Hours)
		}
		c.Chamber = append(c.Chamber, Reading{h, t})
		if h <= 52 {
			c.Sum = append(c.Sum, SumPoint{h, sum})
			c.Range = append(c.Range, RangePoint{h, sum - 0.5*h*0.5, sum + 0.5*h})
		}
	}
	for i, r := range c.Range {
		c.Range[i].Low = math.Max(0, r.Low)
	}
	c.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: c.last().Hours, CrossedHours: new(49.5)}
	return c
}

type dryDownCase struct {
	name  string
	chart DryDown
}

// course is a drying that levels off at a loss, with bands that open after a day.
func course(stop, rate, open float64, now, to float64) []CoursePoint {
	var points []CoursePoint
	for i := range 61 {
		d := to * float64(i) / 60
		m := stop * (1 - math.Exp(-rate*d))
		wide := 0.6 + open*math.Max(0, d-now)
		wide = math.Min(wide, 0.12*m+0.2*wide)
		points = append(points, CoursePoint{
			Days: d, Median: m,
			P50: Span{m - 0.67*wide, m + 0.67*wide}, P80: Span{m - 1.28*wide, m + 1.28*wide}, P90: Span{m - 1.64*wide, m + 1.64*wide},
		})
	}
	return points
}

// weighed is n weigh-ins along a course, alternately a little above and below.
func weighed(n int, stop, rate, to float64) []WeighIn {
	var w []WeighIn
	for i := range n {
		d := to * float64(i+1) / float64(n)
		w = append(w, WeighIn{Days: d, Loss: stop*(1-math.Exp(-rate*d)) + 0.4*float64(i%2) - 0.2})
	}
	return w
}

func dryDowns() []dryDownCase {
	hung := time.Date(2026, time.March, 3, 8, 0, 0, 0, time.UTC)
	// 35 = 45 (1 - exp(-0.05 d)) gives d = 30.1.
	day := TargetDay{Median: 30.1, P50: Span{27.4, 33.2}, P80: Span{25.6, 38.6}, P90: Span{24.1, 43}}
	base := DryDown{
		Subject: "Invented piece 3", HungOn: hung, Outcome: Projected, Target: 35,
		Course: course(45, 0.05, 0.35, 0, 90), Day: &day,
	}
	with := func(change func(c *DryDown)) DryDown {
		c := base
		change(&c)
		return c
	}
	narrow := TargetDay{Median: 30.1, P50: Span{29, 31.1}, P80: Span{28, 32.4}, P90: Span{27.5, 33.4}}
	six := func(c *DryDown) {
		c.WeighIns, c.Now, c.Day = weighed(6, 45, 0.05, 18), 18, &narrow
		c.Course = course(45, 0.05, 0.2, 18, 90)
	}
	return []dryDownCase{
		{"before weighing", base},
		{"one weigh-in", with(func(c *DryDown) {
			c.WeighIns, c.Now = weighed(1, 45, 0.05, 4), 4
			c.Course = course(45, 0.05, 0.3, 4, 90)
		})},
		{"six weigh-ins", with(six)},
		{"doubtful", with(func(c *DryDown) {
			six(c)
			c.WeighIns[2] = WeighIn{c.WeighIns[2].Days, 24, true}
			c.WeighIns[4] = WeighIn{c.WeighIns[4].Days, -880, true}
			c.WeighIns = append(c.WeighIns, WeighIn{18, 90, true})
		})},
		{"forty weigh-ins", with(func(c *DryDown) {
			c.WeighIns, c.Now, c.Day = weighed(40, 45, 0.05, 27), 27, &TargetDay{30.1, Span{29.8, 30.5}, Span{29.4, 31}, Span{29.2, 31.4}}
			c.Course = course(45, 0.05, 0.15, 27, 90)
			c.HungOn = time.Time{}
		})},
		{"wide bands", with(func(c *DryDown) {
			c.Day = &TargetDay{30.1, Span{22, 48}, Span{16, 95}, Span{13, math.Inf(1)}}
			c.Course = course(45, 0.05, 2, 0, 120)
			for i, p := range c.Course {
				c.Course[i].P90.High = math.Min(150, p.P90.High*1.2)
				c.Course[i].P90.Low = p.P90.Low * 0.7
			}
		})},
		{"tiny losses", with(func(c *DryDown) {
			c.WeighIns = []WeighIn{{Days: 0.2, Loss: 0.1}, {Days: 0.6, Loss: -0.1}, {Days: 1, Loss: 0.3}}
			c.Now, c.Target, c.Day = 1, 2, &TargetDay{4.5, Span{4, 5.2}, Span{3.2, 6.5}, Span{2.9, 8}}
			c.Course = course(8, 0.064, 0.1, 1, 30)
		})},
		{"already there", with(func(c *DryDown) {
			c.WeighIns, c.Now, c.Day, c.Outcome = weighed(9, 45, 0.05, 33), 33, nil, AlreadyThere
			c.Course = course(45, 0.05, 0.2, 33, 120)
		})},
		{"not at this humidity", with(func(c *DryDown) {
			c.WeighIns, c.Now, c.Day, c.Outcome, c.Stops = weighed(7, 31, 0.06, 25), 25, nil, NotAtThisHumidity, new(31.0)
			c.Course = course(31, 0.06, 0.08, 25, 365)
		})},
		{"perhaps never", with(func(c *DryDown) {
			never := math.Inf(1)
			c.WeighIns, c.Now, c.Outcome, c.Stops = weighed(7, 34.4, 0.06, 25), 25, IllDetermined, new(34.4)
			c.Day = &TargetDay{never, Span{70, never}, Span{52, never}, Span{46, never}}
			c.Course = course(34.4, 0.06, 0.08, 25, 365)
		})},
		{"weighed before hanging", with(func(c *DryDown) {
			six(c)
			c.WeighIns = append([]WeighIn{{Days: -3, Loss: 0}}, c.WeighIns...)
		})},
		{"long names", with(func(c *DryDown) {
			six(c)
			c.Subject = "Würstchen <b>„Żółć“</b> & Σαλάμι Колбаса\u202e\x00 sehr lang, sehr lang, sehr lang, sehr lang"
			c.Target = 34.95
		})},
		{"weigh-ins alone", with(func(c *DryDown) {
			c.WeighIns, c.Now, c.Day, c.Outcome, c.Course = weighed(3, 45, 0.05, 40), 40, nil, AlreadyThere, nil
		})},
		{"3000 weigh-ins", with(func(c *DryDown) {
			six(c)
			c.WeighIns = weighed(3000, 45, 0.05, 18)
		})},
	}
}
