package api

import (
	"context"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// GetLongestTime answers GET /v1/fermentation/longest-time.
func (h *handlers) GetLongestTime(_ context.Context, req openapi.GetLongestTimeRequestObject) (openapi.GetLongestTimeResponseObject, error) {
	temperature, err := readAsked(req.Params)
	if err != nil {
		return nil, err
	}
	longest, err := fermentation.AtConstant(temperature)
	if err != nil {
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry("", "value", ruleOutOfRange, err.Error())}}
	}
	return openapi.GetLongestTime200JSONResponse{Body: writeLongestTimes(longest, req.Params.Unit)}, nil
}

// readAsked reads the temperature that the parameters ask about.
func readAsked(p openapi.GetLongestTimeParams) (quantity.Temperature, error) {
	t, err := temperaturePerUnit[p.Unit](p.Value)
	if err != nil {
		return t, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry("", "value", ruleOutOfRange, err.Error())}}
	}
	return t, nil
}

func writeLongestTimes(k fermentation.Constant, unit openapi.TemperatureUnit) openapi.LongestTimeAnswer {
	asked := units{us: unit == openapi.TemperatureUnitDegF}
	w := openapi.LongestTimeAnswer{
		RulebookVersion: rulebook.Version(), Temperature: asked.temperature(k.Temperature), Notes: writeNotes(k.Notes, pointerInBody),
		Cautions: fermentationCautions,
	}
	for _, r := range k.ByRule {
		switch r.Set.Scale {
		case rulebook.FahrenheitScale:
			w.Fahrenheit = writeLongestByRule(r)
		case rulebook.CelsiusScale:
			w.Celsius = writeLongestByRule(r)
		}
	}
	w.Shorter = openapi.LongestTime{
		Temperature: w.Temperature, Hours: writeHours(k.Shorter.Time), Never: never(k.Shorter.Time), By: ruleOf(k.Shorter.By),
	}
	return w
}

func writeLongestByRule(r fermentation.ConstantByRule) openapi.LongestTimeByRule {
	return openapi.LongestTimeByRule{
		RuleID: r.Set.ID, Rulebook: openapi.RulebookKey(r.Set.Jurisdiction.String()), Base: inScale(r.Set.Scale, r.Set.Base),
		Class: writeDegreeHourClass(r.Set, r.Class), Hours: writeHours(r.Time), Never: never(r.Time), PrintedHours: writeHours(r.Printed),
		Source: writeCitation(r.Set.Source),
	}
}
