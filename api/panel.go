package api

import (
	"context"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/panel"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// panelCautions stand in every answer on a panel.
var panelCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"Only what is known to be safe to eat is tasted: a panel shows nothing of that, and tasting tests nothing.",
	"The figures hold for independent answers of tasters who were served blind, and speak of this panel, these pieces and this day; which of the two is better they do not say.",
}

var (
	panelMethods = wordsOf(panel.Methods()...)
	panelGoals   = wordsOf(panel.Difference, panel.Similarity)
)

// wordsOf returns the values of a closed list by their words on the wire.
func wordsOf[T interface{ String() string }](values ...T) map[string]T {
	words := make(map[string]T, len(values))
	for _, v := range values {
		words[v.String()] = v
	}
	return words
}

// EvaluatePanel answers POST /v1/panel/evaluate.
func (h *handlers) EvaluatePanel(_ context.Context, req openapi.EvaluatePanelRequestObject) (openapi.EvaluatePanelResponseObject, error) {
	order, err := readPanelOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := panel.Judge(order)
	if err != nil {
		return nil, err
	}
	return openapi.EvaluatePanel200JSONResponse{Body: writePanelAnswer(order, answer)}, nil
}

// PlanServing answers POST /v1/panel/serving-plan.
func (h *handlers) PlanServing(_ context.Context, req openapi.PlanServingRequestObject) (openapi.PlanServingResponseObject, error) {
	plan, err := panel.Serve(panelMethods[string(req.Body.Method)], req.Body.Tasters, uint64(req.Body.Seed)) //nolint:gosec // the contract has no negative seed
	if err != nil {
		return nil, err
	}
	return openapi.PlanServing200JSONResponse{Body: writeServingPlan(plan)}, nil
}

func readPanelOrder(w openapi.PanelOrder) (panel.Order, error) {
	var bad fault.Collector
	var order panel.Order
	if w.Trial != nil {
		order.Trial = readTrial(&bad, *w.Trial)
	}
	if w.ScoreSheet != nil {
		order.Sheet = readScoreSheet(&bad, *w.ScoreSheet)
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readTrial(bad *fault.Collector, w openapi.PanelTrial) *panel.Trial {
	percent := func(member string, value float64) quantity.Fraction {
		f, err := quantity.Percent(value)
		bad.AddError(fault.At("trial", member), codeInvalidValue, err)
		return f
	}
	t := panel.Trial{
		Method: panelMethods[string(w.Method)], Goal: panelGoals[string(w.Goal)], Answers: w.Answers, Correct: w.Correct,
		Alpha: percent("alpha_percent", w.AlphaPercent), Beta: percent("beta_percent", w.BetaPercent),
		Discriminators: percent("discriminators_percent", w.DiscriminatorsPercent),
	}
	if w.Tasters != nil {
		t.Tasters = *w.Tasters
	}
	return &t
}

func readScoreSheet(bad *fault.Collector, w openapi.ScoreSheet) *panel.Sheet {
	number := func(value float64, at ...any) quantity.Ratio {
		r, err := quantity.NewRatio(value)
		bad.AddError(fault.At(append([]any{"score_sheet"}, at...)...), codeInvalidValue, err)
		return r
	}
	s := panel.Sheet{
		Scale: quantity.Between[quantity.Ratio]{Low: number(w.Scale.Low, "scale", "low"), High: number(w.Scale.High, "scale", "high")},
	}
	copy(s.Samples[:], w.Samples)
	s.Attributes = append(s.Attributes, w.Attributes...)
	for i, given := range w.Scores {
		s.Scores = append(s.Scores, panel.Score{
			Taster: given.Taster, Sample: given.Sample, Attribute: given.Attribute, Score: number(given.Score, "scores", i, "score"),
		})
	}
	return &s
}

func writePanelAnswer(o panel.Order, a panel.Answer) openapi.PanelAnswer {
	w := openapi.PanelAnswer{Notes: writeNotes(a.Notes, pointerInBody), Cautions: panelCautions}
	for _, from := range a.Sources {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	if a.Trial != nil {
		w.Trial = pointerTo(writeTrial(*a.Trial))
	}
	if o.Sheet != nil {
		summaries := make([]openapi.AttributeSummary, 0, len(a.Attributes))
		for _, s := range a.Attributes {
			summaries = append(summaries, writeAttribute(o.Sheet.Samples, s))
		}
		w.Attributes = summaries
	}
	return w
}

func writeTrial(r panel.Result) openapi.TrialResult {
	w := openapi.TrialResult{
		Verdict: openapi.PanelVerdict(r.Verdict.String()), PPercent: shown(r.P.Percent()), MissedPercent: shown(r.Missed.Percent()),
		TastersNeeded: r.Needed.First, TastersAlwaysEnough: r.Needed.Always,
		Discriminators: openapi.DiscriminatorShare{
			LowPercent: shown(r.Discriminators.Low.Percent()), MidPercent: shown(r.Discriminators.Mid.Percent()),
			HighPercent: shown(r.Discriminators.High.Percent()),
		},
		DiscriminatorsAtMostPercent: shown(r.AtMost.Percent()),
	}
	if r.Critical >= 0 {
		w.CriticalCount = &r.Critical
	}
	return w
}

func writeAttribute(samples [2]string, s panel.Summary) openapi.AttributeSummary {
	w := openapi.AttributeSummary{Attribute: s.Attribute, Pairs: s.Pairs}
	for i, name := range samples {
		w.Samples = append(w.Samples, openapi.SampleSummary{
			Sample: name, Count: s.Samples[i].Count, Mean: writeScore(s.Samples[i].Mean), Median: writeScore(s.Samples[i].Median), Sd: writeScore(s.Samples[i].SD),
		})
	}
	if d := s.Difference; d != nil {
		w.Difference = &openapi.ScoreDifference{
			Mean: shown(d.Mean.Float()), Low: shown(d.Low.Float()), High: shown(d.High.Float()), PPercent: shown(d.P.Percent()),
			CorrectedPPercent: shown(d.Corrected.Percent()), Shown: d.Shown,
		}
	}
	return w
}

// writeScore returns nil for a number that is not known.
func writeScore(r *quantity.Ratio) *float64 {
	if r == nil {
		return nil
	}
	return pointerTo(shown(r.Float()))
}

func writeServingPlan(plan []panel.Serving) openapi.ServingPlan {
	w := openapi.ServingPlan{Cautions: panelCautions}
	for i, s := range plan {
		serving := openapi.Serving{Taster: i + 1}
		var order strings.Builder
		for _, cup := range s.Cups {
			letter := "AB"[cup.Sample : cup.Sample+1]
			order.WriteString(letter)
			serving.Cups = append(serving.Cups, openapi.ServedCup{
				Sample: openapi.ServedCupSample(letter), Code: optional[string](cup.Code), Reference: cup.Reference,
			})
		}
		serving.Order = order.String()
		w.Servings = append(w.Servings, serving)
	}
	return w
}
