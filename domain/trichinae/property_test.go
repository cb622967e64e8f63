package trichinae_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/trichinae"
)

// drawn returns a number of tenths, so that the edges of rows come up.
func drawn(t *rapid.T, low, high int, name string) float64 {
	return float64(rapid.IntRange(low*10, high*10).Draw(t, name)) / 10
}

func statusOf(found []finding.Finding, code string) finding.Status {
	for _, f := range found {
		if f.Code == code {
			return f.Status
		}
	}
	return 0
}

// Meat that is kept colder, longer, or in thinner pieces is dealt with at least
// as well.
func TestColderLongerAndThinnerNeverUndoes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		was := frozen(drawn(t, -40, 0, "temperature"), drawn(t, 1, 40, "days"), drawn(t, 10, 800, "thickness"))
		was.AtCentre = rapid.Bool().Draw(t, "at the centre")
		now := frozen(was.Temperature.Celsius()-drawn(t, 0, 10, "colder"), was.Span.Hours()/24+drawn(t, 0, 10, "longer"),
			was.Thickness.Millimetres()*drawn(t, 0, 1, "thinner")+1e-3)
		now.AtCentre = was.AtCentre
		if now.Thickness.Compare(was.Thickness) > 0 {
			now.Thickness = was.Thickness
		}
		before, after := judge(sausage(28, freeze(was))), judge(sausage(28, freeze(now)))
		if before[0].Status == finding.Met && after[0].Status != finding.Met {
			t.Fatalf("%v is met and %v is %s: %s", was, now, after[0].Status, after[0].Reason)
		}
		for _, f := range judge(and2(boar, freeze(was), freeze(now))) {
			if f.Code == "trichinae-plan" && f.Status == finding.Met {
				t.Fatalf("freezing shows it for wild boar: %+v", f)
			}
		}
	})
}

func and2(changes ...func(*formula.Formula)) formula.Formula { return sausage(28, and(changes...)) }

// Thicker meat and thicker sausage never need less time; a colder freezer and a
// hotter core never more.
func TestRowsAreOnTheCautiousSide(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		cold, colder := drawn(t, -60, 10, "freezer"), drawn(t, 0, 20, "colder")
		thin, thicker := drawn(t, 1, 700, "thickness"), drawn(t, 0, 200, "thicker")
		mm := quantity.MustMillimetres
		a, ok := trichinae.FreezingFor(quantity.MustCelsius(cold), mm(thin))
		if b, too := trichinae.FreezingFor(quantity.MustCelsius(cold-colder), mm(thin)); ok && (!too || b.Days > a.Days) {
			t.Fatalf("colder: %+v after %+v", b, a)
		}
		if b, too := trichinae.FreezingFor(quantity.MustCelsius(cold), mm(thin+thicker)); too && (!ok || b.Days < a.Days) {
			t.Fatalf("thicker: %+v after %+v", b, a)
		}
		if ok && (quantity.MustCelsius(cold).Compare(a.Warmest) > 0 || mm(thin).Compare(a.Thickest) > 0) {
			t.Fatalf("%v °C and %v mm are outside %+v", cold, thin, a)
		}
		core, hotter := drawn(t, 40, 70, "core"), drawn(t, 0, 10, "hotter")
		h, ok := trichinae.HeatingFor(quantity.MustCelsius(core))
		if g, too := trichinae.HeatingFor(quantity.MustCelsius(core + hotter)); ok && (!too || g.Span > h.Span) {
			t.Fatalf("hotter: %+v after %+v", g, h)
		}
		for _, m := range trichinae.Methods() {
			row, ok := m.RowFor(mm(thin))
			if next, too := m.RowFor(mm(thin + thicker)); too && (!ok || next.Dry < row.Dry || next.Total < row.Total) {
				t.Fatalf("%s, thicker: %+v after %+v", m.ID, next, row)
			}
		}
	})
}

// By method 6 more salt, a thinner sausage and a longer or warmer hold never
// lengthen the drying.
func TestMethod6OnlyShortens(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		diameter, salt := drawn(t, 1, 160, "diameter"), drawn(t, 1, 5, "salt")
		hold := trichinae.Held{
			Coldest: quantity.MustFahrenheit(drawn(t, 40, 130, "hold")), Span: time.Duration(rapid.IntRange(0, 150).Draw(t, "hours")) * time.Hour,
		}
		was, ok := trichinae.DaysByMethod6(quantity.MustMillimetres(diameter), hold, quantity.MustPPM(salt*1e4))
		less := trichinae.Held{Coldest: must(quantity.Fahrenheit(hold.Coldest.Fahrenheit() - drawn(t, 0, 20, "colder"))), Span: hold.Span / 2}
		for name, then := range map[string]func() (trichinae.Method6Days, bool){
			"thicker": func() (trichinae.Method6Days, bool) {
				return trichinae.DaysByMethod6(quantity.MustMillimetres(diameter+drawn(t, 0, 60, "thicker")), hold, quantity.MustPPM(salt*1e4))
			},
			"less salt": func() (trichinae.Method6Days, bool) {
				return trichinae.DaysByMethod6(quantity.MustMillimetres(diameter), hold, quantity.MustPPM((salt-drawn(t, 0, 1, "less salt"))*1e4))
			},
			"colder and shorter": func() (trichinae.Method6Days, bool) {
				return trichinae.DaysByMethod6(quantity.MustMillimetres(diameter), less, quantity.MustPPM(salt*1e4))
			},
		} {
			if now, too := then(); too && (!ok || now.Days < was.Days) {
				t.Fatalf("%s: %+v after %+v", name, now, was)
			}
		}
		if ok && (was.Days < 0 || was.Deducted > was.Row.Dry || salt < 2) {
			t.Fatalf("%v %% of salt: %+v", salt, was)
		}
	})
}

// No method is met in a room below 45 °F, whatever else is planned.
func TestNoMethodIsMetInARefrigerator(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := sausage(drawn(t, 20, 60, "salt"), and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method = formula.DryingMethod(rapid.IntRange(0, int(formula.MethodCapocollo)).Draw(t, "method"))
			f.Plan.Drying = []formula.Step{drying(drawn(t, -2, 7, "room"), drawn(t, 1, 300, "days"))}
			f.Plan.Smoke = []formula.Warmth{{Temperature: celsius(30), Span: 48 * time.Hour}}
			f.Plan.Hold = []formula.Hold{{Of: formula.Mixed, Temperature: celsius(4), Span: 12 * day, Depth: quantity.MustMillimetres(100)}}
			f.Plan.Grind.Plate = quantity.MustMillimetres(6)
		}))
		if found := judge(f); found[0].Status == finding.Met {
			t.Fatalf("met: %+v", found[0])
		}
	})
}

// Edges exactly on a row, and a hair beyond.
func TestEdges(t *testing.T) {
	t.Parallel()
	m1, _ := trichinae.MethodByID("method-1")
	for _, c := range []struct {
		name string
		got  int
		want int
	}{
		{"3 1/2 in", rowDays(m1, 88.9), 20},
		{"3 1/2 in and a hundredth of a millimetre", rowDays(m1, 88.91), 35},
		{"4 in", rowDays(m1, 101.6), 35},
		{"over 4 in", rowDays(m1, 101.61), 0},
		{"salt 3.33", increased(33300), 0},
		{"salt 3.32", increased(33200), 1},
		{"salt 3.3", increased(33000), 1},
		{"salt 3.29", increased(32900), 4},
		{"salt 2.0", increased(20000), 40},
		{"salt 1.99", increased(19900), -1},
		{"24 h at 70 °F", trichinae.ReductionFor(trichinae.Held{Coldest: quantity.MustFahrenheit(70), Span: 24 * time.Hour}), 4},
		{"24 h at 69.9 °F", trichinae.ReductionFor(trichinae.Held{Coldest: quantity.MustFahrenheit(69.9), Span: 24 * time.Hour}), 0},
		{"23 h at 120 °F", trichinae.ReductionFor(trichinae.Held{Coldest: quantity.MustFahrenheit(120), Span: 23 * time.Hour}), 0},
		{"130 h at 130 °F", trichinae.ReductionFor(trichinae.Held{Coldest: quantity.MustFahrenheit(130), Span: 130 * time.Hour}), 100},
		{"pH 4.6 with 1.3 %", studied(4.6, 1.3), 8},
		{"fermented warmer", studiedAt(5, 2, 26, 15.5), 9},
		{"fermented colder", studiedAt(5, 2, 23.7, 15.5), 0},
		{"dried in a refrigerator", studiedAt(5, 2, 23.8, 4), 0},
		{"pH 4.59", studied(4.59, 2), 0},
		{"pH 4.61 with 1.3 %", studied(4.61, 1.3), 11},
		{"pH 5.2 with 1.8 %", studied(5.2, 1.8), 9},
		{"pH 5.2 with 2.8 %", studied(5.2, 2.8), 8},
		{"pH 5.21", studied(5.21, 2.8), 0},
		{"salt below 1.3 %", studied(5, 1.29), 0},
	} {
		if c.got != c.want {
			t.Errorf("%s: want %d, got %d", c.name, c.want, c.got)
		}
	}
}

func rowDays(m trichinae.Method, mm float64) int {
	r, _ := m.RowFor(quantity.MustMillimetres(mm))
	return r.Dry
}

// increased is -1 where there is no method 6.
func increased(ppm float64) int {
	p, ok := trichinae.IncreaseFor(quantity.MustPPM(ppm))
	if !ok {
		return -1
	}
	return p
}

func studied(ph, percent float64) int { return studiedAt(ph, percent, 23.8, 15.5) }

func studiedAt(ph, percent, ferment, dry float64) int {
	r, _ := trichinae.PublishedFor(trichinae.Process{
		PH: quantity.MustPH(ph), Salt: quantity.MustPPM(percent * 1e4), Fermentation: quantity.MustCelsius(ferment), Drying: quantity.MustCelsius(dry),
	})
	return r.Days
}

// Salt, sugar, spice and cure are no part of the base of method 6. By hand, on 1
// kg of meat: 35.34 g of salt, 5 g of dextrose, 100 g of wine, 4 g of fresh
// garlic, which is no dry good, and 3 g of pepper. The salt is 3.534 % of the
// meat, 3.08 % of the batch of 1147.34 g and 3.20 % of the 1104 g without dry
// goods.
func TestSaltBases(t *testing.T) {
	t.Parallel()
	add := func(name string, role formula.Role, key string, grams float64) formula.Addition {
		m, ok := material.ByKey(key)
		if !ok {
			t.Fatal(key)
		}
		return formula.Addition{Name: name, Role: role, Material: &m, Rate: must(formula.MassPer(quantity.MustGrams(grams), quantity.MustGrams(1000)))}
	}
	f := sausage(35.34, func(f *formula.Formula) {
		f.Additions = append(f.Additions, add("dextrose", formula.Sugar, "dextrose-monohydrate", 5), add("wine", formula.Liquid, "wine-table-red", 100),
			add("garlic", formula.Spice, "garlic-raw", 4), add("pepper", formula.Spice, "pepper-black", 3))
	})
	order := formula.Order{Formula: f, Scale: formula.Divisions{{Division: quantity.MustGrams(0.01)}}}
	order.Amount.Meat = quantity.MustGrams(1000)
	sheet := must(formula.Scale(order))
	for base, want := range map[trichinae.SaltBase]float64{
		trichinae.OfMeat: 3.534, trichinae.OfUnstuffed: 100 * 35.34 / 1147.34, trichinae.WithoutDryGoods: 100 * 35.34 / 1104,
	} {
		if got := trichinae.SaltOf(sheet, base).Low.Percent(); got < want-1e-6 || got > want+1e-6 {
			t.Errorf("%s: want %v %%, got %v", base, want, got)
		}
	}
}

func FuzzLookUps(f *testing.F) {
	f.Add(-18.0, 50.0, 3.33, 5.0, 48.0)
	f.Add(5.0, 152.4, 2.0, 4.6, 0.0)
	f.Add(62.2, 88.9, 0.0, 5.2, 120.0)
	f.Fuzz(func(t *testing.T, celsius, mm, percent, ph, hours float64) {
		temperature, err1 := quantity.Celsius(celsius)
		length, err2 := quantity.Millimetres(mm)
		salt, err3 := quantity.PartsPerMillion(percent * 1e4)
		acid, err4 := quantity.NewPH(ph)
		if err1 != nil || err2 != nil || err3 != nil || err4 != nil || !(hours >= 0 && hours < 1e5) {
			return
		}
		if r, ok := trichinae.FreezingFor(temperature, length); ok && (r.Days < 6 || r.Days > 30) {
			t.Errorf("freezing: %+v", r)
		}
		trichinae.CentreFor(temperature)
		trichinae.HeatingFor(temperature)
		trichinae.PublishedFor(trichinae.Process{PH: acid, Salt: salt, Fermentation: temperature, Drying: temperature})
		held := trichinae.Held{Coldest: temperature, Span: time.Duration(hours * float64(time.Hour))}
		if d, ok := trichinae.DaysByMethod6(length, held, salt); ok && (d.Days < 0 || d.Days > 70) {
			t.Errorf("method 6: %+v", d)
		}
		for _, m := range trichinae.Methods() {
			if r, ok := m.RowFor(length); ok && strings.TrimSpace(r.Only) != "" {
				t.Errorf("a row of one product: %+v", r)
			}
		}
	})
}
