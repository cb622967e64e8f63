package rulebook_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// The published bases, edges and limits: American Meat Institute Foundation, Good
// Manufacturing Practices for Fermented Dry and Semi-Dry Sausage Products, 1997,
// and Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter
// 4, 4.16, both as quoted in several texts.
func TestDegreeHourSets(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id           string
		jurisdiction rulebook.Jurisdiction
		scale        string
		base         quantity.Temperature
		unit         quantity.Unit
	}{
		{"degf-60", rulebook.UnitedStates, "degF", quantity.MustFahrenheit(60), quantity.UnitDegFHours},
		{"degc-15.6", rulebook.Canada, "degC", quantity.MustCelsius(15.6), quantity.UnitDegCHours},
	} {
		s, ok := rulebook.DegreeHourSetByID(row.id)
		if !ok {
			t.Fatalf("no rule %s", row.id)
		}
		if s.Jurisdiction != row.jurisdiction || s.Scale.String() != row.scale || s.Scale.DegreeHourUnit() != row.unit || s.Base.Compare(row.base) != 0 {
			t.Errorf("%s: got %s, %s, base %s", row.id, s.Jurisdiction, s.Scale, s.Base)
		}
		quantitytest.Near(t, row.id+", pH", 5.3, s.TargetPH.Float(), 0)
		if s.Comparator != rulebook.Below {
			t.Errorf("%s: a sum must stay below its limit, got %s", row.id, s.Comparator)
		}
		if s.Source.Title == "" || s.Source.Section == "" || s.Source.Trust != source.ReadSecondary || s.Source.Note == "" || s.Note == "" {
			t.Errorf("%s does not say how far it may be trusted: %+v", row.id, s.Source)
		}
		if theirs, ok := rulebook.DegreeHourSetFor(row.jurisdiction); !ok || theirs.ID != row.id {
			t.Errorf("%s: want %s, got %s", row.jurisdiction, row.id, theirs.ID)
		}
	}
	var ids []string
	for _, s := range rulebook.DegreeHourSets() {
		ids = append(ids, s.ID)
	}
	if d := cmp.Diff([]string{"degf-60", "degc-15.6"}, ids); d != "" {
		t.Error(d)
	}
}

func TestDegreeHourClasses(t *testing.T) {
	t.Parallel()
	f, c := quantity.MustFahrenheit, quantity.MustCelsius
	for _, row := range []struct {
		set     string
		highest quantity.Temperature
		limit   float64
		printed string
	}{
		{"degf-60", f(40), 1200, "less than 90 °F"},
		{"degf-60", f(89.9), 1200, "less than 90 °F"},
		{"degf-60", f(90), 1000, "90 to 100 °F"},
		{"degf-60", c(32.5), 1000, "90 to 100 °F"}, // 90.5 °F
		{"degf-60", f(100), 1000, "90 to 100 °F"},
		{"degf-60", c(37.7), 1000, "90 to 100 °F"}, // 99.86 °F
		{"degf-60", f(100.1), 900, "more than 100 °F"},
		{"degf-60", f(140), 900, "more than 100 °F"},
		{"degc-15.6", c(4), 665, "less than 33 °C"},
		{"degc-15.6", c(32.9), 665, "less than 33 °C"},
		{"degc-15.6", f(90), 665, "less than 33 °C"}, // 32.2 °C
		{"degc-15.6", c(33), 555, "33 to 37 °C"},
		{"degc-15.6", c(37), 555, "33 to 37 °C"},
		{"degc-15.6", c(37.1), 500, "more than 37 °C"},
		{"degc-15.6", f(100), 500, "more than 37 °C"}, // 37.8 °C
	} {
		t.Run(fmt.Sprintf("%s %s", row.set, row.highest), func(t *testing.T) {
			t.Parallel()
			s, _ := rulebook.DegreeHourSetByID(row.set)
			got := s.ClassOf(row.highest)
			quantitytest.Near(t, "limit", row.limit, got.Limit.In(s.Scale.DegreeHourUnit()).Value(), 1e-6)
			if got.Highest != row.printed || got.Printed != fmt.Sprintf("less than %v", row.limit) {
				t.Errorf("want %s and less than %v, got %s and %s", row.printed, row.limit, got.Highest, got.Printed)
			}
		})
	}
}

// Hotter is never allowed more, each class begins above the one before, and only
// the last is without an end.
func TestDegreeHourClassesFollowEachOther(t *testing.T) {
	t.Parallel()
	for _, s := range rulebook.DegreeHourSets() {
		for i, c := range s.Classes {
			if last := i == len(s.Classes)-1; c.UpTo.IsZero() != last {
				t.Errorf("%s, %s: want an upper edge %v", s.ID, c.Highest, !last)
			}
			if i > 0 && s.Classes[i-1].Limit.Compare(c.Limit) <= 0 {
				t.Errorf("%s, %s: want less than in the cooler class", s.ID, c.Highest)
			}
		}
		if !slices.IsSortedFunc(s.Classes[:len(s.Classes)-1], func(a, b rulebook.DegreeHourClass) int { return a.UpTo.Compare(b.UpTo) }) {
			t.Errorf("%s: the classes are out of order", s.ID)
		}
	}
}

func TestDegreeHourSetsAreCopies(t *testing.T) {
	t.Parallel()
	all := rulebook.DegreeHourSets()
	byID, _ := rulebook.DegreeHourSetByID("degf-60")
	of, _ := rulebook.DegreeHourSetFor(rulebook.Canada)
	all[0].Classes[0].Printed, byID.Classes[1].Printed, of.Classes[0].Printed = "1", "2", "3"
	for _, s := range rulebook.DegreeHourSets() {
		for _, c := range s.Classes {
			if len(c.Printed) < 2 {
				t.Errorf("%s was changed from outside to %s", s.ID, c.Printed)
			}
		}
	}
}

func TestNoSuchDegreeHourSet(t *testing.T) {
	t.Parallel()
	if s, ok := rulebook.DegreeHourSetByID("degk-288"); ok {
		t.Errorf("got %s", s.ID)
	}
	for _, j := range []rulebook.Jurisdiction{0, rulebook.EuropeanUnion, rulebook.GreatBritain, rulebook.AustraliaNewZealand} {
		if s, ok := rulebook.DegreeHourSetFor(j); ok {
			t.Errorf("%s has no rule of its own, got %s", j, s.ID)
		}
	}
	if got := (rulebook.DegreeHourSet{}).ClassOf(quantity.MustCelsius(20)); got != (rulebook.DegreeHourClass{}) {
		t.Errorf("want no class of no rule, got %s", got.Highest)
	}
	if got := rulebook.Scale(0).String(); got != "unstated" {
		t.Errorf("want the zero scale to be unstated, got %s", got)
	}
}
