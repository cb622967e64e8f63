package finish_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/finish"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// referenceTable is the collection that the trees and names were written from,
// compiled on 25 November 2026: each row as it was written down, and how it came
// to be known.
//
//go:embed testdata/reference.json
var referenceTable []byte

type referenceRow struct {
	Section string          `json:"section"`
	ID      string          `json:"id"`
	Value   json.RawMessage `json:"value"`
	Status  string          `json:"status"`
}

var trusts = map[string]source.Trust{
	"READ": source.Read, "READ-SECONDARY": source.ReadSecondary, "DERIVED": source.Derived, "MEMORY": source.Memory,
}

func decode[T any](tb testing.TB, raw json.RawMessage) T {
	tb.Helper()
	var v T
	if err := json.Unmarshal(raw, &v); err != nil {
		tb.Fatalf("%s: %v", raw, err)
	}
	return v
}

// conditions are what the rows of the collection say of a condition, in its words,
// and what each is in a tree.
var conditions = map[string][]string{
	"cured: nitrite (or nitrate with a reducing culture and time) inside its rulebook": {"cure"},
	"cured": {"cure"},
	"fermentation: pH 5.3 or lower measured inside the degree-hours limit": {"acid-in-time"},
	"salt and trichinae findings of the plan met where pork is used":       {"salt", "trichinae"},
	"smoked": {"smoked"}, "intact or vacuum-packed": {"intact-or-vacuum-packed"},
	"brine (salt in the water phase) >= 5 %": {"brine >= 5"},
	"MPR <= 1.9":                             {"moisture-protein <= 1.9"}, "MPR <= 3.1": {"moisture-protein <= 3.1"},
	"pH <= 5.0": {"ph <= 5"}, "pH <= 4.5": {"ph <= 4.5"}, "pH <= 4.6": {"ph <= 4.6"}, "aw < 0.91": {"water-activity < 0.91"},
	"pH <= 5.0 or measured aw <= 0.85":       {"any(ph <= 5, water-activity <= 0.85)"},
	"nitrite/nitrate at least 100 ppm added": {"cure-added >= 100"}, "salt at least 2.5 % [READ in copies]": {"salt-added >= 2.5"},
	"degree-hours met": {"degree-hours"}, "aw <= 0.85, reached by drying": {"water-activity <= 0.85", "dried"},
	"fermented to pH <= 5.3": {"ph-after-fermentation <= 5.3"}, "aw <= 0.90 at the end": {"water-activity-after-fermentation <= 0.9"},
}

// written puts a node of ours into words.
func written(n rulebook.Node) string {
	if n.Join == 0 {
		if n.Limit.IsZero() {
			return n.Fact.String()
		}
		return fmt.Sprintf("%s %s %s", n.Fact, n.Comparator, strconv.FormatFloat(n.Limit.Value(), 'g', -1, 64))
	}
	var of []string
	for _, b := range n.Of {
		of = append(of, written(b))
	}
	return n.Join.String() + "(" + strings.Join(of, ", ") + ")"
}

// told puts a row of the collection into the same words.
func told(t *testing.T, r referenceRow) string {
	t.Helper()
	if r.Value[0] == '[' { // any of some pairs
		var ways []string
		for _, way := range decode[[]map[string]float64](t, r.Value) {
			var all []string
			for _, k := range []struct{ key, says string }{
				{"pH_max", "ph <= "}, {"pH_lt", "ph < "}, {"aw_max", "water-activity <= "}, {"aw_lt", "water-activity < "},
			} {
				if v, has := way[k.key]; has {
					all = append(all, k.says+strconv.FormatFloat(v, 'g', -1, 64))
				}
			}
			ways = append(ways, joined("all", all))
		}
		return joined("any", ways)
	}
	v := decode[struct {
		All []string   `json:"all"`
		Any [][]string `json:"any"`
	}](t, r.Value)
	words := func(said []string) []string {
		var all []string
		for _, s := range said {
			known, ok := conditions[s]
			if !ok {
				t.Errorf("%s: a condition that no tree has: %s", r.ID, s)
			}
			for _, k := range known {
				if !slices.Contains(all, k) { // "cured" stands twice in one row
					all = append(all, k)
				}
			}
		}
		return all
	}
	all := words(v.All)
	var ways []string
	for _, way := range v.Any {
		ways = append(ways, joined("all", words(way)))
	}
	if len(ways) > 0 {
		all = append(all, joined("any", ways))
	}
	return joined("all", all)
}

func joined(join string, of []string) string {
	if len(of) == 1 {
		return of[0]
	}
	return join + "(" + strings.Join(of, ", ") + ")"
}

// A node is found by its id in its tree, and each leaf has a source to be told.
func TestTreesAreWellFormed(t *testing.T) {
	t.Parallel()
	rules := map[string]bool{}
	for _, tree := range check(t, finished()).Trees {
		if rules[tree.Rule.ID] {
			t.Errorf("two trees %s", tree.Rule.ID)
		}
		rules[tree.Rule.ID] = true
		ids := map[string]bool{}
		for i, n := range tree.Nodes {
			if ids[n.Rule.ID] || n.Parent >= i || i > 0 && n.Depth != tree.Nodes[n.Parent].Depth+1 {
				t.Errorf("%s: node %s stands twice, or before its parent", tree.Rule.ID, n.Rule.ID)
			}
			ids[n.Rule.ID] = true
			if n.Source.Title == "" || n.Rule.Says == "" || n.Reason == "" || n.Status == 0 || (n.Rule.Join == 0) != (n.Rule.Fact != 0) {
				t.Errorf("%s: node %s lacks something: %+v", tree.Rule.ID, n.Rule.ID, n)
			}
			var of []finding.Status
			for _, b := range tree.Nodes {
				if b.Parent == i {
					of = append(of, b.Status)
				}
			}
			if n.Rule.Join == rulebook.AnyOf && n.Status != finish.Any(of...) || n.Rule.Join == rulebook.AllOf && n.Status != finish.All(of...) {
				t.Errorf("%s: node %s is %s of %v", tree.Rule.ID, n.Rule.ID, n.Status, of)
			}
		}
	}
	for _, rule := range finish.Rules() { // a copy: changing it changes nothing
		rule.Root.Of[0].Says = "changed"
	}
	for _, rule := range finish.Rules() {
		if rule.Root.Of[0].Says == "changed" {
			t.Errorf("%s is handed out, not copied", rule.ID)
		}
	}
}

// Every row of the collection on finished products is walked by its id, and each
// has a check.
func TestEveryRowOfTheReference(t *testing.T) {
	t.Parallel()
	rows := decode[[]referenceRow](t, referenceTable)
	const count = 32
	if len(rows) != count {
		t.Errorf("want %d rows, got %d", count, len(rows))
	}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			t.Parallel()
			checkRow(t, r)
		})
	}
}

func checkRow(t *testing.T, r referenceRow) {
	t.Helper()
	switch {
	case r.Section == "mpr":
		checkIdentity(t, r)
	case r.Section == "stability" && r.ID == "uk-schedule":
		// A rule for hams of countries with an animal disease, and none of shelf
		// stability: nothing may be met by its figures.
		for _, rule := range finish.Rules() {
			if strings.Contains(written(rule.Root), "0.93") || strings.Contains(written(rule.Root), "ph <= 6") {
				t.Errorf("%s has its figures", rule.ID)
			}
		}
	case r.ID == "eu-wp":
		row := rulebook.IdentitiesOf(rulebook.EuropeanUnion, rulebook.SaucissonSecTradition)
		limit := decode[map[string]float64](t, r.Value)["water_protein_lt"]
		if len(row) != 1 || row[0].ID != r.ID || row[0].Ratio.Float() != limit || row[0].Comparator != rulebook.Below || row[0].Source.Trust != trusts[r.Status] {
			t.Errorf("want below %v, got %+v", limit, row)
		}
		if len(rulebook.IdentitiesOf(rulebook.EuropeanUnion, rulebook.LongCuredChorizoTradition)) != 0 {
			t.Error("it is asked of salchichón and chorizo of long curing too")
		}
	case r.Section == "stability":
		checkTree(t, r)
	default:
		checkFigure(t, r)
	}
}

func checkIdentity(t *testing.T, r referenceRow) {
	t.Helper()
	row, ok := rulebook.IdentityFor(strings.TrimPrefix(r.ID, "mpr-"))
	limit := decode[float64](t, r.Value)
	if !ok || row.ID != r.ID || row.Ratio.Float() != limit || row.Comparator != rulebook.AtMost || row.Source.Trust != trusts[r.Status] {
		t.Fatalf("want at most %v of trust %s, got %+v", limit, r.Status, row)
	}
	judged := func(ratio float64) finding.Status {
		o := finish.Order{Rulebooks: []rulebook.Jurisdiction{rulebook.UnitedStates}, Date: testDay(), Identity: row.Key(), Analyses: []finish.Analysis{analysis(20*ratio, 20, 0)}}
		o.PH = []finish.Sample[quantity.PH]{acid(4.8, finish.Core)}
		f, _ := found(check(t, o), "product-identity")
		return f.Status
	}
	kept := finding.Met
	if r.Status == "MEMORY" {
		kept = finding.NotShown
	}
	want(t, "on the limit", kept, judged(limit))
	want(t, "unrounded above it", finding.NotMet, judged(limit+0.004))
}

func checkTree(t *testing.T, r referenceRow) {
	t.Helper()
	ids := []string{r.ID}
	if r.ID == "listeria-nogrow" { // a limit of package pathogen, of two rulebooks
		ids = []string{"eu-listeria-2073", "gb-listeria-2073"}
	}
	for _, id := range ids {
		i := slices.IndexFunc(finish.Rules(), func(s rulebook.Stability) bool { return s.ID == id })
		if i < 0 {
			t.Fatalf("no tree %s", id)
		}
		rule := finish.Rules()[i]
		if says, ours := told(t, r), written(rule.Root); says != ours {
			t.Errorf("want %s\ngot  %s", says, ours)
		}
		if rule.Source.Trust != trusts[r.Status] {
			t.Errorf("want trust %s, got %s", r.Status, rule.Source.Trust)
		}
	}
}

func checkFigure(t *testing.T, r referenceRow) {
	t.Helper()
	switch r.ID {
	case "mpr":
		o := finished()
		o.Analyses = []finish.Analysis{analysis(30, 20, 0)}
		quantitytest.Near(t, r.ID, 1.5, nodeOf(t, treeOf(t, check(t, o), "us-dry"), "moisture-protein").Measured.Value.Value(), 1e-12)
	case "wps": // 100 * 4 / (4 + 28) = 12.5, not 4/28 = 14.3
		o := finished()
		o.Analyses = []finish.Analysis{analysis(28, 25, 4)}
		quantitytest.Near(t, r.ID, 12.5, nodeOf(t, treeOf(t, check(t, o), "us-semidry-alt"), "brine").Measured.Value.Value(), 1e-9)
	case "salt-wps": // from 3.5 to 5 percent of salt at 30 to 40 percent of moisture
		ends := decode[[]float64](t, r.Value)
		phase := func(salt, moisture float64) float64 {
			o := finished()
			o.Analyses = []finish.Analysis{analysis(moisture, 20, salt)}
			return nodeOf(t, treeOf(t, check(t, o), "us-semidry-alt"), "brine").Measured.Value.Value()
		}
		quantitytest.Near(t, "low", ends[0], phase(3.5, 40), 0.1)
		quantitytest.Near(t, "high", ends[1], phase(4.5, 30), 0.1)
	case "check-07071", "check-07057", "check-07072":
		checkProduct(t, r)
	case "verification":
		for _, solution := range decode[[]float64](t, r.Value)[1:] {
			if !strings.Contains(finish.MeasureActivity.How(), strconv.FormatFloat(solution, 'f', 3, 64)) {
				t.Errorf("the solution of %.3f is not named", solution)
			}
		}
	case "estimate-off":
		off := decode[[]float64](t, r.Value)
		e := check(t, finished()).Estimate
		quantitytest.Near(t, "80 percent", off[0], e.Likely.Mid.Float()-e.Likely.Low.Float(), 1e-9)
		quantitytest.Near(t, "95 percent", off[1], e.Surely.Mid.Float()-e.Surely.Low.Float(), 1e-9)
	case "meter-off":
		u := finish.Usuals()[0]
		if u.Of != "water-activity" || u.Method != finish.ByMeter || u.Off.Value() != decode[float64](t, r.Value) {
			t.Errorf("got %+v", u)
		}
	case "loss-80-20": // lean of pork butt and back fat; 2.8 g of salt, 0.5 of dextrose and of spice to 100 g of meat
		mix := wateractivity.Mix{Water: quantity.MustPercent(58.8), Protein: quantity.MustPercent(58.8 / 3.92)}
		for ratio, loss := range decode[map[string]float64](t, r.Value) {
			v, err := strconv.ParseFloat(ratio, 64)
			if err != nil {
				t.Fatal(err)
			}
			got, err := mix.LossAtRatio(quantity.MustRatio(v))
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, ratio, loss, got.Percent(), 0.06)
		}
	case "staphylococci":
		limit := decode[float64](t, r.Value)
		for cells, status := range map[float64]finding.Status{limit: finding.NotMet, limit - 1: finding.NotShown} {
			o := finished()
			count := quantity.MustCFUPerGram(cells)
			o.Results = []finish.Result{{Of: finish.StaphylococcusAureus, Found: true, Count: &count}}
			f, _ := found(check(t, o), "staphylococcus-aureus-result")
			want(t, r.ID, status, f.Status)
		}
	case "sampled-for":
		var ours []string
		for _, a := range finish.Analytes() {
			ours = append(ours, a.String())
		}
		listed := decode[[]string](t, r.Value)
		slices.Sort(listed)
		slices.Sort(ours)
		if !slices.Equal(listed, ours) {
			t.Errorf("want %v, got %v", listed, ours)
		}
	default:
		t.Errorf("row %s has no check", r.ID)
	}
}

// checkProduct holds a finished product of the USDA's tables against the names:
// NDB 07071 at 1.602 is no pepperoni, of at most 1.6, unrounded; 07057 at 1.483
// is one; 07072 at 1.955 is no dry sausage, of at most 1.9.
func checkProduct(t *testing.T, r referenceRow) {
	t.Helper()
	v := decode[struct{ Moisture, Protein, Ratio float64 }](t, r.Value)
	judged := func(identity string) finding.Finding {
		o := finish.Order{
			Rulebooks: []rulebook.Jurisdiction{rulebook.UnitedStates}, Date: testDay(), Identity: identity, Analyses: []finish.Analysis{analysis(v.Moisture, v.Protein, 0)},
		}
		f, _ := found(check(t, o), "product-identity")
		return f
	}
	quantitytest.Near(t, r.ID, v.Ratio, judged("dry-sausage").Measured.Value.Value(), 0.006)
	names := map[string][2]finding.Status{
		"check-07071": {finding.NotMet, finding.Met}, "check-07057": {finding.Met, finding.Met}, "check-07072": {finding.NotMet, finding.NotMet},
	}[r.ID]
	want(t, "pepperoni", names[0], judged("pepperoni").Status)
	want(t, "dry sausage", names[1], judged("dry-sausage").Status)
}
