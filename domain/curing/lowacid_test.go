package curing_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/curing"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// airs are steps of a temperature in °C and hours; 0 hours have no end.
func airs(celsiusAndHours ...float64) []formula.Step {
	var steps []formula.Step
	for pair := range slices.Chunk(celsiusAndHours, 2) {
		steps = append(steps, formula.Step{
			Temperature: material.Is(quantity.MustCelsius(pair[0])), Span: time.Duration(pair[1] * float64(time.Hour)),
		})
	}
	return steps
}

// declared is a dry sausage with cure that is declared to be of little acid.
func declared(fermentation, drying []formula.Step) formula.Formula {
	f := cured(generic("cure-1"), per(2.5, 1000), added("salt", formula.Salt, "salt-table", per(25, 1000)))
	f.Plan.LowAcid, f.Plan.Fermentation, f.Plan.Drying = true, fermentation, drying
	f.Parts[0].Received.Temperature = material.Is(quantity.MustCelsius(4))
	return f
}

// lowAcid lists what is found of the declaration, by key.
func lowAcid(a curing.Answer) map[string]finding.Status {
	found := make(map[string]finding.Status)
	for _, f := range a.Findings {
		if strings.HasPrefix(f.Code, "low-acid-") {
			found[f.Key()] = f.Status
		}
	}
	return found
}

// By hand: 48 h at 22 °C are 48 * (22 - 15.6) = 307.2 °C h of 665, and
// 48 * (71.6 - 60) = 556.8 °F h of 1200. 96 h at 24 °C are 806.4 °C h and 1459.2
// °F h, over both. 80 h at 75 °F are the 1200 °F h themselves, and
// 80 * (23.889 - 15.6) = 663.1 °C h.
func TestDeclaredLowAcid(t *testing.T) {
	t.Parallel()
	cool := airs(12, 720)
	with := func(celsius, fahrenheit finding.Status) map[string]finding.Status {
		return map[string]finding.Status{
			"low-acid-route": finding.NotShown, "low-acid-cure": finding.NotShown, "low-acid-cold-start": finding.NotShown,
			"degc-15.6": celsius, "degf-60": fahrenheit, "low-acid-toxin": finding.NotShown, "low-acid-listeria": finding.NotShown,
		}
	}
	for _, row := range []struct {
		name    string
		formula formula.Formula
		want    map[string]finding.Status
	}{
		{"cool all the time", declared(airs(12, 72), cool), with(finding.Met, finding.Met)},
		{"at 15.58 °C, between both bases", declared(airs(15.58, 72), cool), with(finding.Met, finding.NotShown)},
		{"two days at 22 °C", declared(airs(22, 48), cool), with(finding.NotShown, finding.NotShown)},
		{"four days at 24 °C", declared(airs(24, 96), cool), with(finding.NotMet, finding.NotMet)},
		{"80 h at 75 °F", declared(airs((75.0-32)/1.8, 80), cool), with(finding.NotShown, finding.Near)},
		{"dried warm", declared(airs(12, 72), airs(20, 720)), with(finding.NotMet, finding.NotMet)},
		{"dried warm without an end", declared(airs(12, 72), airs(18, 0)), with(finding.NotShown, finding.NotShown)},
		{"no drying is planned", declared(airs(12, 72), nil), with(finding.NotShown, finding.NotShown)},
		{"nothing is planned", declared(nil, nil), with(finding.NotShown, finding.NotShown)},
		{"nothing is known of a step", declared([]formula.Step{{Span: time.Hour}}, cool), with(finding.NotShown, finding.NotShown)},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(row.want, lowAcid(check(t, order(row.formula, rulebook.UnitedStates, rulebook.EuropeanUnion)))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestLowAcidSaysHowLong(t *testing.T) {
	t.Parallel()
	a := check(t, order(declared(airs(24, 96), airs(12, 720)), rulebook.Canada))
	f := by(t, a, "degc-15.6")
	if f.Code != "low-acid-temperature" || f.Rulebook != "ca" || f.Measured.Value.String() != "806.4 °C h" || f.Limit.Value.String() != "665 °C h" {
		t.Errorf("got %+v", f)
	}
	// 665/8.4 = 79.17 h, cut off.
	if !strings.Contains(f.Remedy, "15.6 °C or colder") || !strings.Contains(f.Remedy, "less than 79.1 h") {
		t.Errorf("remedy %q", f.Remedy)
	}
	if diff := cmp.Diff([][]string{{"plan", "fermentation", "0", "temperature"}}, f.Members); diff != "" {
		t.Errorf("members (-want +got):\n%s", diff)
	}
}

func TestLowAcidWithoutWhatCarriesIt(t *testing.T) {
	t.Parallel()
	bare := declared(airs(12, 72), airs(12, 720))
	bare.Additions = bare.Additions[1:]
	if got := lowAcid(check(t, order(bare, rulebook.Canada)))["low-acid-cure"]; got != finding.NotMet {
		t.Errorf("without a cure: %s", got)
	}
	warm := declared(airs(12, 72), airs(12, 720))
	warm.Parts[0].Received.Temperature = material.Is(quantity.MustCelsius(7.5))
	if got := lowAcid(check(t, order(warm, rulebook.Canada)))["low-acid-cold-start"]; got != finding.NotMet {
		t.Errorf("meat at 7.5 °C: %s", got)
	}
	unread := declared(airs(12, 72), airs(12, 720))
	unread.Parts[0].Received.Temperature = material.Known[quantity.Temperature]{}
	if got := by(t, check(t, order(unread, rulebook.Canada)), "low-acid-cold-start"); got.Status != finding.NotShown || got.Remedy == "" {
		t.Errorf("meat of which nothing was read: %+v", got)
	}
	sour := declared(airs(12, 72), airs(12, 720))
	ph := quantity.MustPH(5.1)
	sour.Plan.WantedPH = &ph
	if got := by(t, check(t, order(sour, rulebook.Canada)), "low-acid-route"); !strings.Contains(got.Reason, "slip") {
		t.Errorf("with a pH that is wanted: %q", got.Reason)
	}
	if got := by(t, check(t, order(sour, rulebook.Canada)), "low-acid-route"); !strings.Contains(got.Reason, "33 days") { // 72 h and 720 h
		t.Errorf("the time of the plan: %q", got.Reason)
	}
	loin := declared(nil, nil)
	loin.Product = rulebook.DryCuredMuscle
	want := map[string]finding.Status{"low-acid-route": finding.NotApplicable}
	if diff := cmp.Diff(want, lowAcid(check(t, order(loin, rulebook.Canada)))); diff != "" {
		t.Errorf("of whole muscle (-want +got):\n%s", diff)
	}
}

// Nothing is found of a formula that does not declare it, however it is planned.
func TestLowAcidIsNeverInferred(t *testing.T) {
	t.Parallel()
	f := declared(airs(12, 72), airs(12, 720))
	f.Plan.LowAcid = false
	if got := lowAcid(check(t, order(f, rulebook.Canada))); len(got) > 0 {
		t.Errorf("got %v", got)
	}
}

// A warmer step never makes it better, and cutting one in two changes nothing.
func TestLowAcidWarmthIsMonotonic(t *testing.T) {
	t.Parallel()
	severity := []finding.Status{finding.Met, finding.NotShown, finding.Near, finding.NotMet}
	rapid.Check(t, func(t *rapid.T) {
		celsius := rapid.SliceOfN(rapid.Float64Range(5, 30), 1, 3).Draw(t, "celsius")
		hours := rapid.Float64Range(1, 200).Draw(t, "hours")
		statuses := func(warmer float64, cut bool) map[string]finding.Status {
			var flat []float64
			for i, c := range celsius {
				if i == 0 {
					c += warmer
				}
				if cut {
					flat = append(flat, c, hours/4, c, hours*3/4)
				} else {
					flat = append(flat, c, hours)
				}
			}
			a, err := curing.Check(order(declared(airs(flat...), airs(12, 500)), rulebook.Canada))
			if err != nil {
				t.Fatal(err)
			}
			return lowAcid(a)
		}
		now, hotter, cut := statuses(0, false), statuses(rapid.Float64Range(0, 15).Draw(t, "warmer"), false), statuses(0, true)
		if diff := cmp.Diff(now, cut); diff != "" {
			t.Fatalf("whole and cut (-whole +cut):\n%s", diff)
		}
		for _, rule := range []string{"degc-15.6", "degf-60"} {
			if slices.Index(severity, hotter[rule]) < slices.Index(severity, now[rule]) {
				t.Fatalf("%s: %s, and %s when warmer", rule, now[rule], hotter[rule])
			}
		}
	})
}
