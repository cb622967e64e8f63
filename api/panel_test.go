package api

import (
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfThePanel(t *testing.T) {
	t.Parallel()
	for name, path := range map[string]string{"panel-triangle": pathPanel, "panel-scores": pathPanel, "serving-plan": pathServingPlan} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, path, readExample(t, name+".request").Value), near)
		})
	}
}

const (
	goodTrial = `{"trial":{"method":"triangle","goal":"difference","answers":24,"correct":13,"tasters":24,` +
		`"alpha_percent":5,"beta_percent":20,"discriminators_percent":40}}`
	goodSheet = `{"score_sheet":{"samples":["bag","room"],"attributes":["firmness"],"scale":{"low":0,"high":10},"scores":[` +
		`{"taster":"one","sample":"bag","attribute":"firmness","score":4},{"taster":"one","sample":"room","attribute":"firmness","score":6},` +
		`{"taster":"two","sample":"bag","attribute":"firmness","score":5},{"taster":"two","sample":"room","attribute":"firmness","score":8}]}}`
	goodServing = `{"method":"triangle","tasters":7,"seed":1}`
)

func TestMembersOfAPanelAreRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathPanel, goodTrial, []change{
		{`"triangle"`, `"duo-trio"`}, {`"triangle"`, `"paired-one-sided"`}, {`"triangle"`, `"paired-two-sided"`}, {`"difference"`, `"similarity"`},
		{`"answers":24`, `"answers":25`}, {`"correct":13`, `"correct":12`}, {`"tasters":24`, `"tasters":8`}, {`"alpha_percent":5`, `"alpha_percent":1`},
		{`"beta_percent":20`, `"beta_percent":10`}, {`"discriminators_percent":40`, `"discriminators_percent":30`},
	})
	membersAreRead(t, pathPanel, goodSheet, []change{
		{`"attributes":["firmness"]`, `"attributes":["firmness","aroma"]`}, {`"score":8`, `"score":9`},
		{`"two","sample":"room"`, `"three","sample":"room"`},
	})
	membersAreRead(t, pathServingPlan, goodServing, []change{
		{`"triangle"`, `"duo-trio"`}, {`"tasters":7`, `"tasters":8`}, {`"seed":1`, `"seed":2`},
	})
}

func TestPanelsWithoutMeaning(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct{ good, old, with, pointer, code string }{
		"more right than answers":  {goodTrial, `"correct":13`, `"correct":25`, "#/trial/correct", "out-of-range"},
		"more tasters than answer": {goodTrial, `"tasters":24`, `"tasters":25`, "#/trial/tasters", "out-of-range"},
		"nobody":                   {goodTrial, `"answers":24`, `"answers":0`, "#/trial/answers", "minimum"},
		"off the scale":            {goodSheet, `"score":8`, `"score":11`, "#/score_sheet/scores/3/score", "off-the-scale"},
		"scale upside down":        {goodSheet, `"low":0`, `"low":20`, "#/score_sheet/scale", "invalid-value"},
		"twice":                    {goodSheet, `"two","sample":"bag"`, `"one","sample":"bag"`, "#/score_sheet/scores/2/taster", "duplicate-score"},
		"another sample":           {goodSheet, `"two","sample":"bag"`, `"two","sample":"cellar"`, "#/score_sheet/scores/2/sample", "unknown-sample"},
		"nothing":                  {goodServing, goodServing, `{}`, "#/trial", "required"},
		"nobody served":            {goodServing, `"tasters":7`, `"tasters":0`, "#/tasters", "minimum"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := pathPanel
			if name == "nobody served" {
				path = pathServingPlan
			}
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: path, Body: instead(t, tc.good, tc.old, tc.with), Bad: true})
			p := apitest.Decode[openapi.Problem](t, a)
			found := false
			for _, e := range p.Errors {
				found = found || e.Pointer != nil && *e.Pointer == tc.pointer && e.Code == tc.code
			}
			if a.Status != http.StatusUnprocessableEntity || !found {
				t.Errorf("want %s %s, got %d: %s", tc.pointer, tc.code, a.Status, a.Body)
			}
		})
	}
}

// By hand: differences of 2 and 3 have the mean 2.5 and the sd sqrt(1/2), and t of
// one degree of freedom is 12.7062, so that the interval is 2.5 -+ 6.3531.
func TestScoresOnTheWire(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.PanelAnswer](t, testClient(t).Post(t, pathPanel, []byte(goodSheet)))
	want := openapi.ScoreDifference{Mean: 2.5, Low: -3.8531, High: 8.8531, PPercent: 50, CorrectedPPercent: 50}
	if d := cmp.Diff(want, *a.Attributes[0].Difference, nearFit); d != "" {
		t.Error(d)
	}
}
