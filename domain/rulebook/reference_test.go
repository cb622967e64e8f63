package rulebook_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// referenceTable is the collection of rules that the rulebook was written from,
// compiled from the named texts on 25 November 2026: per row the figure, the unit
// and how it came to be known.
//
//go:embed testdata/reference.json
var referenceTable []byte

type referenceRow struct {
	Section string          `json:"section"`
	ID      string          `json:"id"`
	Value   json.RawMessage `json:"value"`
	Unit    string          `json:"unit"`
	Status  string          `json:"status"`
	Exact   json.RawMessage `json:"limit_exact"`

	Potassium              json.RawMessage `json:"limit_KNO2"`
	ResidualMost           json.RawMessage `json:"residual_max"`
	NitrateResidualMost    json.RawMessage `json:"nitrate_residual_max_NO3"`
	ResidualInvestigate    json.RawMessage `json:"residual_investigate_NO3"`
	WithoutNitriteResidual json.RawMessage `json:"limit_dry_without_nitrite"`
}

func referenceRows(tb testing.TB, section string) []referenceRow {
	tb.Helper()
	var all, rows []referenceRow
	if err := json.Unmarshal(referenceTable, &all); err != nil {
		tb.Fatal(err)
	}
	for _, r := range all {
		if r.Section == section {
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		tb.Fatalf("reference has no section %q", section)
	}
	return rows
}

// rat reads a number, or the i-th of a list of numbers, exactly.
func rat(tb testing.TB, raw json.RawMessage, i int) *big.Rat {
	tb.Helper()
	var n json.Number
	if err := json.Unmarshal(raw, &n); err != nil {
		var list []json.Number
		if err := json.Unmarshal(raw, &list); err != nil {
			tb.Fatalf("%s is neither a number nor a list of numbers", raw)
		}
		n = list[i]
	}
	r, ok := new(big.Rat).SetString(n.String())
	if !ok {
		tb.Fatalf("%s is no number", n)
	}
	return r
}

var trusts = map[string]source.Trust{
	"READ": source.Read, "READ-SECONDARY": source.ReadSecondary, "DERIVED": source.Derived, "MEMORY": source.Memory,
}

// carried is a row that a reference row became.
type carried struct {
	id    string
	value string       // exact, in the row's unit; empty for the reference's own figure
	trust source.Trust // zero for the reference's own trust
}

// splits are the reference rows that became other rows than one of the same id,
// with the reason.
var splits = map[string][]carried{
	// One row for two jurisdictions. Where the British text was not read the trust
	// is that of a quotation.
	"eu-nitrite-0831-old": {{id: "eu-nitrite-0831-old"}, {id: "gb-nitrite-0831", trust: source.ReadSecondary}},
	"eu-nitrate-0831-old": {{id: "eu-nitrate-0831-old"}, {id: "gb-nitrate-0831"}},
	"eu-nitrite-0832-old": { // and its note: sterilised 100
		{id: "eu-nitrite-0832-old"},
		{id: "gb-nitrite-0832", trust: source.ReadSecondary},
		{id: "eu-nitrite-0832-ster-old", value: "100"},
		{id: "gb-nitrite-0832-ster", value: "100", trust: source.ReadSecondary},
	},
	"eu-trad-drybacon":        {{id: "eu-trad-drybacon"}, {id: "gb-trad-drybacon"}},
	"eu-trad-dryham":          {{id: "eu-trad-dryham"}, {id: "gb-trad-dryham"}},
	"eu-trad-rohschinken":     {{id: "eu-trad-rohschinken"}, {id: "gb-trad-rohschinken"}},
	"eu-trad-cz":              {{id: "eu-trad-cz"}, {id: "gb-trad-cz"}},
	"eu-trad-salamikantwurst": {{id: "eu-trad-salamikantwurst"}, {id: "gb-trad-salamikantwurst", trust: source.ReadSecondary}},
	"eu-trad-saucisson":       {{id: "eu-trad-saucisson"}, {id: "gb-trad-saucisson", trust: source.ReadSecondary}},
	"eu-salt-only":            {{id: "eu-salt-only"}, {id: "gb-salt-only"}},
	"eu-erythorbate":          {{id: "eu-erythorbate"}, {id: "gb-erythorbate", trust: source.ReadSecondary}},
	"eu-phosphate":            {{id: "eu-phosphate"}, {id: "gb-phosphate", trust: source.ReadSecondary}},

	// A window is a floor and a ceiling.
	"ca-curing-window":    {{id: "ca-curing-floor", value: "100"}, {id: "ca-curing-ceiling", value: "200"}},
	"us-bacon-pumped-lab": {{id: "us-bacon-pumped-lab-floor", value: "40"}, {id: "us-bacon-pumped-lab-ceiling", value: "80"}},

	// Several figures in one value or note.
	"us-accel-pickle": {{id: "us-accel-pickle-acid", value: "75"}, {id: "us-accel-pickle-salt", value: "87.5"}},
	"us-bacon-pumped": {{id: "us-bacon-pumped"}, {id: "us-bacon-pumped-ascorbate", value: "550"}},
	"us-gdl":          {{id: "us-gdl"}, {id: "us-gdl-genoa", value: "10000"}},
	"us-phosphate":    {{id: "us-phosphate"}, {id: "us-phosphate-pickle", value: "5"}},
	"us-fumaric":      {{id: "us-fumaric", value: "0.065"}}, // printed in percent
	"us-accel-1":      {{id: "us-accel-1"}, {id: "us-accel-only-cured", trust: source.Memory}},
	"eu-nitrite-082":  {{id: "eu-nitrite-082"}, {id: "eu-nitrite-082-res", value: "45"}, {id: "eu-nitrite-082-old", value: "150"}},
	"eu-nitrite-0832-ster": {
		{id: "eu-nitrite-0832-ster"}, {id: "eu-nitrite-0832-ster-res", value: "25"},
	},
	"eu-nitrate-0831-res":   {{id: "eu-nitrate-0831-res"}, {id: "eu-nitrate-0831-dry-res", value: "110"}},
	"eu-trad-drybacon-new":  {{id: "eu-trad-drybacon-new"}, {id: "eu-trad-drybacon-nitrate-new", value: "150"}},
	"eu-trad-dryham-new":    {{id: "eu-trad-dryham-new"}, {id: "eu-trad-dryham-nitrate-new", value: "150"}},
	"eu-trad-cz-new":        {{id: "eu-trad-cz-new"}, {id: "eu-trad-cz-res-new", value: "50"}},
	"eu-trad-spreadable":    {{id: "eu-trad-spreadable"}, {id: "eu-trad-spreadable-res", value: "50"}},
	"eu-trad-salami-new":    {{id: "eu-trad-salami-new"}, {id: "eu-trad-salami-res-new", value: "95"}},
	"eu-trad-saucisson-new": {{id: "eu-trad-saucisson-new"}, {id: "eu-trad-saucisson-res-new", value: "95"}},
	"anz-nitrite":           {{id: "anz-nitrite"}, {id: "anz-nitrite-sterile", value: "50"}},
	"codex-heat":            {{id: "codex-heat"}, {id: "codex-corned-beef", value: "30"}},
	"br-sum": { // the species of the nitrate figure is recalled
		{id: "br-sum"}, {id: "br-nitrate", value: "300", trust: source.Memory},
	},
	// The permission ended on different days.
	"dk-nitrite": {{id: "dk-nitrite"}, {id: "dk-nitrite-heated"}},
	// Two agents, ingoing and residual; the figures were read in an explanation of
	// the regulation and not in it.
	"eu-organic": {
		{id: "eu-organic-nitrite", trust: source.ReadSecondary},
		{id: "eu-organic-nitrate", trust: source.ReadSecondary},
		{id: "eu-organic-nitrite-res", value: "50", trust: source.ReadSecondary},
		{id: "eu-organic-nitrate-res", value: "50", trust: source.ReadSecondary},
	},
}

func TestEveryReferenceLimitIsInTheRulebook(t *testing.T) {
	t.Parallel()
	unaccounted := map[string]bool{}
	for _, l := range rulebook.Limits() {
		unaccounted[l.ID] = true
	}
	for _, r := range referenceRows(t, "limits") {
		rows, ok := splits[r.ID]
		if !ok {
			rows = []carried{{id: r.ID}}
		}
		for i, c := range rows {
			l, found := rulebook.LimitByID(c.id)
			if !found {
				t.Errorf("%s: no row %s", r.ID, c.id)
				continue
			}
			delete(unaccounted, c.id)
			trust := trusts[r.Status]
			if c.trust != 0 {
				trust = c.trust
			}
			if diff := cmp.Diff(trust.String(), l.Source.Trust.String()); diff != "" {
				t.Errorf("%s: trust differs (-want +got):\n%s", c.id, diff)
			}
			hasFigure := r.Exact != nil || c.value != ""
			if l.Kind == rulebook.Condition || l.Kind == rulebook.Absent {
				hasFigure = false
			}
			if !hasFigure {
				if l.Value.Amount != nil || l.Value.Exact != nil {
					t.Errorf("%s: has an amount, the reference has none", c.id)
				}
				continue
			}
			var want *big.Rat
			if c.value != "" {
				want, _ = new(big.Rat).SetString(c.value)
			} else {
				want = rat(t, r.Exact, i)
			}
			if l.Value.Amount == nil || l.Value.Amount.Cmp(want) != 0 {
				t.Errorf("%s: want %s, got %v", c.id, want.RatString(), l.Value.Amount)
			}
		}
	}
	for id := range unaccounted {
		t.Errorf("row %s comes from no reference row: add it to the splits with its reason", id)
	}
}

// The extra figures of reference rows stand in the rows they were split into.
func TestExtraFiguresOfReferenceRows(t *testing.T) {
	t.Parallel()
	seen := 0
	for _, r := range referenceRows(t, "limits") {
		for name, raw := range map[string]json.RawMessage{
			"residual":                      r.ResidualMost,
			"nitrate residual":              r.NitrateResidualMost,
			"residual to look into":         r.ResidualInvestigate,
			"residual of the dry exception": r.WithoutNitriteResidual,
		} {
			if raw == nil {
				continue
			}
			seen++
			want := rat(t, raw, 0)
			if !slices.ContainsFunc(splits[r.ID], func(c carried) bool {
				l, _ := rulebook.LimitByID(c.id)
				return l.Phase == rulebook.Residual && l.Value.Exact != nil && l.Value.Exact.Cmp(want) == 0
			}) {
				t.Errorf("%s: no row carries its %s of %s", r.ID, name, want.RatString())
			}
		}
		if r.Potassium != nil {
			rows, ok := splits[r.ID]
			if !ok || r.ID == "us-bacon-pumped" {
				rows = []carried{{id: r.ID}}
			}
			for i, c := range rows {
				seen++
				l, _ := rulebook.LimitByID(c.id)
				if want := rat(t, r.Potassium, i); l.Potassium.Exact == nil || l.Potassium.Exact.Cmp(want) != 0 {
					t.Errorf("%s: want %s for the potassium salt, got %v", c.id, want.RatString(), l.Potassium.Exact)
				}
			}
		}
	}
	const want = 5 + 2 + 2 + 1 + 6 // counted by hand in the reference, in the order above; the pairs last, two of them of one window
	if diff := cmp.Diff(want, seen); diff != "" {
		t.Errorf("count of extra figures differs (-want +got):\n%s", diff)
	}
}

// printedAsCut are the figures that a text prints cut off, and printedRounded
// those it prints rounded, where the exact one is a fraction.
var (
	printedAsCut   = []string{"us-nitrite-comminuted", "us-nitrate-comminuted", "us-nitrate-drycured"}
	printedRounded = []string{"us-accel-1", "us-accel-2"}
)

func TestExactAgreesWithPrinted(t *testing.T) {
	t.Parallel()
	var cut, rounded []string
	for _, l := range rulebook.Limits() {
		if l.Value.Amount == nil {
			if l.Value.Printed == "" {
				t.Errorf("%s says nothing", l.ID)
			}
			continue
		}
		if l.Kind == rulebook.Prohibited {
			if l.Value.Exact.Sign() != 0 {
				t.Errorf("%s: prohibited, yet %s", l.ID, l.Value.Exact.RatString())
			}
			continue
		}
		printed, scale := readPrinted(t, l.Value.Printed)
		exact := new(big.Rat).Quo(l.Value.Amount, amountPerPrinted(l.Unit, scale))
		switch d := new(big.Rat).Sub(exact, printed); {
		case d.Sign() == 0:
		case d.Sign() > 0 && d.Cmp(big.NewRat(1, 1)) < 0:
			cut = append(cut, l.ID)
		case d.Sign() < 0 && d.Cmp(big.NewRat(-1, 2)) >= 0:
			rounded = append(rounded, l.ID)
		default:
			t.Errorf("%s: %s is not the print of %s", l.ID, l.Value.Printed, l.Value.Amount.RatString())
		}
		if l.Unit == rulebook.PercentOfBase {
			want := new(big.Rat).Mul(l.Value.Amount, big.NewRat(10000, 1))
			if l.Value.Exact.Cmp(want) != 0 {
				t.Errorf("%s: %s percent are %s mg/kg, got %s", l.ID, l.Value.Amount.RatString(), want.RatString(), l.Value.Exact.RatString())
			}
		}
	}
	slices.Sort(cut)
	slices.Sort(rounded)
	want := map[string][]string{"cut": slices.Sorted(slices.Values(printedAsCut)), "rounded": printedRounded}
	if diff := cmp.Diff(want, map[string][]string{"cut": cut, "rounded": rounded}); diff != "" {
		t.Errorf("figures printed with a loss differ (-want +got):\n%s", diff)
	}
}

// readPrinted returns the first number of a printed figure and the words after
// it.
func readPrinted(tb testing.TB, s string) (*big.Rat, string) {
	tb.Helper()
	number, unit, _ := strings.Cut(s, " ")
	r, ok := new(big.Rat).SetString(number)
	if !ok {
		tb.Fatalf("%q does not begin with a number", s)
	}
	return r, unit
}

// amountPerPrinted returns how many units of a row one printed unit is.
func amountPerPrinted(u rulebook.Unit, printed string) *big.Rat {
	if u != rulebook.MilligramsPerKilogram {
		return big.NewRat(1, 1)
	}
	switch printed {
	case "oz per 100 lb":
		return big.NewRat(625, 1) // an ounce in 1600 ounces
	case "g per 100 g":
		return big.NewRat(10000, 1)
	default:
		return big.NewRat(1, 1)
	}
}

func TestEveryReferenceBlendIsACure(t *testing.T) {
	t.Parallel()
	keys := map[string]string{
		"us-cure-1": "cure-1", "us-cure-2-a": "cure-2", "eu-npsalt": "nitrite-salt", "saltpetre": "saltpetre",
		"pure-nitrite": "sodium-nitrite",
	}
	// The reference marks the two US blends as read; they are printed in several
	// texts, none of which fixes them, so their trust here is that of a quotation.
	read := []string{"us-cure-1", "us-cure-2-a"}
	// The notes of those rows give the range that blends sold under the name have;
	// a cure whose own assay is not stated is computed at both ends. The salt is the
	// rest.
	noted := map[string][2]float64{
		"us-cure-1 NaNO2": {5.9, 6.25}, "us-cure-1 NaCl": {93.75, 94.1},
		"us-cure-2-a NaNO2": {5.7, 6.25}, "us-cure-2-a NaNO3": {1, 4}, "us-cure-2-a NaCl": {89.75, 93.3},
	}
	compounds := map[string]rulebook.Compound{
		"NaNO2": rulebook.CompoundNaNO2, "KNO2": rulebook.CompoundKNO2, "NaNO3": rulebook.CompoundNaNO3,
		"KNO3": rulebook.CompoundKNO3, "NaCl": rulebook.CompoundNaCl,
	}
	rows := referenceRows(t, "blends")
	if diff := cmp.Diff(len(keys), len(rows)); diff != "" {
		t.Errorf("count of reference blends differs (-want +got):\n%s", diff)
	}
	for _, r := range rows {
		c, ok := rulebook.CureByKey(keys[r.ID])
		if !ok {
			t.Errorf("no cure for %s", r.ID)
			continue
		}
		want := trusts[r.Status]
		if slices.Contains(read, r.ID) {
			want = source.ReadSecondary
		}
		if diff := cmp.Diff(want.String(), c.Source.Trust.String()); diff != "" {
			t.Errorf("%s: trust differs (-want +got):\n%s", c.Key, diff)
		}
		var assay map[string]json.RawMessage
		if err := json.Unmarshal(r.Value, &assay); err != nil {
			t.Fatal(err)
		}
		for name, raw := range assay {
			low, _ := rat(t, raw, 0).Float64()
			high, _ := rat(t, raw, 1%max(1, listLength(raw))).Float64()
			if ends, ok := noted[r.ID+" "+name]; ok {
				if low != ends[0] && low != ends[1] {
					t.Errorf("%s: the printed %s of %v is no end of the range", c.Key, name, low)
				}
				low, high = ends[0], ends[1]
			}
			got := c.Content(compounds[name])
			quantitytest.Near(t, fmt.Sprintf("%s, least %s", c.Key, name), low, got.Low.Percent(), 1e-12)
			if strings.Contains(r.Unit, "treat as") {
				high = 100 // at least the printed assay, at most the pure salt
			}
			quantitytest.Near(t, fmt.Sprintf("%s, most %s", c.Key, name), high, got.High.Percent(), 1e-12)
		}
	}
}

func listLength(raw json.RawMessage) int {
	var list []json.RawMessage
	if json.Unmarshal(raw, &list) != nil {
		return 1
	}
	return len(list)
}

func TestEveryReferenceMolarMassAndFactor(t *testing.T) {
	t.Parallel()
	compounds := map[string]rulebook.Compound{
		"NaNO2": rulebook.CompoundNaNO2, "KNO2": rulebook.CompoundKNO2, "NO2": rulebook.CompoundNO2,
		"NaNO3": rulebook.CompoundNaNO3, "KNO3": rulebook.CompoundKNO3, "NO3": rulebook.CompoundNO3,
	}
	for _, r := range referenceRows(t, "molar") {
		want, _ := rat(t, r.Value, 0).Float64()
		kind, rest, _ := strings.Cut(r.ID, "-")
		var got float64
		switch kind {
		case "M":
			got, _ = compounds[rest].MolarMass().Float64()
		case "f":
			from, to, _ := strings.Cut(rest, "-")
			if strings.HasSuffix(from, "NO3") && to == "NaNO2" {
				p, err := rulebook.NitriteFromNitrate(quantity.MustPPM(1), compounds[from], compounds[to])
				if err != nil {
					t.Fatal(err)
				}
				got = p.MilligramsPerKilogram()
				break
			}
			f, err := rulebook.Factor(compounds[from], compounds[to])
			if err != nil {
				t.Fatal(err)
			}
			got = f.Float()
		default:
			t.Fatalf("%s is neither a molar mass nor a factor", r.ID)
		}
		// the reference gives six decimals
		quantitytest.Near(t, r.ID, want, got, 0.6e-6)
	}
}

func TestEveryReferenceCalculation(t *testing.T) {
	t.Parallel()
	got := map[string]string{}
	for _, c := range rulebook.Calculations() {
		got[c.ID] = c.Source.Trust.String()
		if c.Subject == "" || c.Expression == "" || c.Basis == "" || c.Source.Title == "" {
			t.Errorf("%s lacks subject, expression, basis or source", c.ID)
		}
		if c.Source.Trust == source.Memory && (c.Note == "" || c.Source.Note == "") {
			t.Errorf("%s is recalled and does not say so", c.ID)
		}
	}
	want := map[string]string{}
	for _, r := range referenceRows(t, "formulas") {
		want[r.ID] = trusts[r.Status].String()
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("calculations and their trust differ (-want +got):\n%s", diff)
	}
}

func TestEveryReferenceGuide(t *testing.T) {
	t.Parallel()
	ids := map[string]bool{
		"salt-least":       true, // from the note of salt-range
		"hardstop-nitrate": true, // what hardstop is for nitrite
		"nitrite-effect":   true, // from the note of us-nitrite-min-keeprefrig
	}
	for _, r := range referenceRows(t, "salt_tox") {
		ids[r.ID] = true
		g, ok := rulebook.GuideByID(r.ID)
		if !ok {
			t.Errorf("no guide %s", r.ID)
			continue
		}
		if diff := cmp.Diff(trusts[r.Status].String(), g.Source.Trust.String()); diff != "" {
			t.Errorf("%s: trust differs (-want +got):\n%s", g.ID, diff)
		}
		if want := rat(t, r.Value, 1%max(1, listLength(r.Value))); g.High.Amount == nil || g.High.Amount.Cmp(want) != 0 {
			t.Errorf("%s: want high %s, got %v", g.ID, want.RatString(), g.High.Amount)
		}
		if listLength(r.Value) == 2 {
			if want := rat(t, r.Value, 0); g.Low.Amount == nil || g.Low.Amount.Cmp(want) != 0 {
				t.Errorf("%s: want low %s, got %v", g.ID, want.RatString(), g.Low.Amount)
			}
		} else if !g.Low.IsZero() {
			t.Errorf("%s: has a low end, the reference has none", g.ID)
		}
	}
	for _, g := range rulebook.Guides() {
		if !ids[g.ID] {
			t.Errorf("guide %s comes from no reference row", g.ID)
		}
		for what, word := range map[string]string{
			"agent": g.Agent.String(), "species": g.Species.String(), "phase": g.Phase.String(), "base": g.Base.String(),
			"kind": g.Kind.String(), "unit": g.Unit.String(), "trust": g.Source.Trust.String(),
		} {
			if word == "unstated" {
				t.Errorf("%s: no %s", g.ID, what)
			}
		}
		if g.Source.Title == "" || g.Note == "" || g.Low.IsZero() && g.High.IsZero() {
			t.Errorf("%s lacks source, note or figure", g.ID)
		}
		for _, v := range []rulebook.Value{g.Low, g.High} {
			if v.IsZero() {
				continue
			}
			printed, _ := readPrinted(t, v.Printed)
			if printed.Cmp(v.Amount) != 0 {
				t.Errorf("%s: %s is not the print of %s", g.ID, v.Printed, v.Amount.RatString())
			}
			if _, ok := v.PPM(); ok != (g.Unit == rulebook.PercentOfBase || g.Unit == rulebook.MilligramsPerKilogram) {
				t.Errorf("%s: a mass fraction in unit %s: %t", g.ID, g.Unit, ok)
			}
		}
	}
}
