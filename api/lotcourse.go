package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// mostProjected is how many pieces of a lot are projected at once: each takes
// some tens of milliseconds.
const mostProjected = 12

// pieceProjection is a piece with its projection, or with why there is none.
type pieceProjection struct {
	name       string
	question   lot.DryDown
	projection drying.Projection
	notShown   *fault.Error
}

// projectPiece projects one piece of a lot. What is missing is no error.
func projectPiece(state lot.State, name string, asOf time.Time) (pieceProjection, error) {
	p := pieceProjection{name: name}
	var err error
	p.question, err = state.DryDown(name, asOf)
	if err == nil {
		p.projection, err = drying.Project(p.question.Order)
	}
	if missing, ok := errors.AsType[*fault.Error](err); ok {
		p.notShown = missing
		return p, nil
	}
	return p, err
}

// GetLotDryDown answers GET /v1/lots/{lot_id}/dry-down.
func (h *handlers) GetLotDryDown(ctx context.Context, req openapi.GetLotDryDownRequestObject) (openapi.GetLotDryDownResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := h.lots.Lot(ctx, who.Shop, lot.ID(req.LotID))
	if err != nil {
		return nil, err
	}
	state := kept.Record.State()
	names, err := piecesOf(state, req.Params.Piece)
	if err != nil {
		return nil, err
	}
	asOf, err := h.presentOf(state, names, req.Params.AsOfAt)
	if err != nil {
		return nil, err
	}
	u := unitsOf(req.Params.Units)
	tag := madeOf(kept.Version(), strconv.FormatBool(u.us), answerType(ctx), h.version.Program, drying.Model,
		asOf.Format(time.RFC3339Nano), given(req.Params.Piece))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetLotDryDown304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	if answerType(ctx) != mediaTypeJSON {
		return drawPiece(ctx, state, names, asOf, tag)
	}
	w := openapi.LotDryDown{
		LotID: req.LotID, Head: writeHead(kept.Lot.Head), AsOfAt: asOf, Pieces: make([]openapi.PieceDryDown, 0, len(names)),
		Notes: openapi.Notes{}, Cautions: dryingCautions,
	}
	if more := len(names) - mostProjected; more > 0 {
		names = names[:mostProjected]
		w.Notes = append(w.Notes, openapi.Note{Code: "more-pieces", Text: fmt.Sprintf(
			"the lot has %d more pieces: ask for each by the parameter piece", more)})
	}
	for _, name := range names {
		p, err := projectPiece(state, name, asOf)
		if err != nil {
			return nil, err
		}
		w.Pieces = append(w.Pieces, writePieceDryDown(p, u))
	}
	return openapi.GetLotDryDown200JSONResponse{Body: w, Headers: openapi.GetLotDryDown200ResponseHeaders{ETag: &tag}}, nil
}

// presentOf returns the present that is asked for, or else that of the clock, to
// the minute. It can't be before what is known of the pieces.
func (h *handlers) presentOf(state lot.State, names []string, asked *openapi.Instant) (time.Time, error) {
	if asked == nil {
		return h.clock().UTC().Truncate(time.Minute), nil
	}
	for _, p := range state.Pieces {
		if !slices.Contains(names, p.Name) {
			continue
		}
		last := p.StuffedAt
		if p.HungAt.After(last) {
			last = p.HungAt
		}
		if p.Latest != nil && p.Latest.At.After(last) {
			last = p.Latest.At
		}
		if last.After(*asked) {
			return time.Time{}, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry(
				"", "as_of_at", "before-the-facts", "is before piece "+p.Name+" was stuffed, hung or last weighed, at "+last.Format(time.RFC3339))}}
		}
	}
	return *asked, nil
}

// piecesOf returns the names of the pieces of a lot, or the one that is asked
// for.
func piecesOf(state lot.State, asked *openapi.PieceName) ([]string, error) {
	names := make([]string, 0, len(state.Pieces))
	for _, p := range state.Pieces {
		names = append(names, p.Name)
	}
	if asked == nil {
		return names, nil
	}
	if !slices.Contains(names, *asked) {
		return nil, &refusal{slug: slugNotFound, detail: "the lot has no piece " + quote(*asked)}
	}
	return []string{*asked}, nil
}

// drawPiece answers with the chart of one piece.
func drawPiece(ctx context.Context, state lot.State, names []string, asOf time.Time, tag string) (openapi.GetLotDryDownResponseObject, error) {
	switch {
	case len(names) == 0:
		return nil, &fault.Error{Kind: fault.NoSolution, Code: "no-pieces", Detail: "nothing was stuffed yet, so that there is nothing to draw"}
	case len(names) > 1:
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry(
			"", "piece", ruleRequired, "is missing; the lot has "+strconv.Itoa(len(names))+" pieces, and a chart shows one")}}
	}
	p, err := projectPiece(state, names[0], asOf)
	switch {
	case err != nil:
		return nil, err
	case p.notShown != nil:
		return nil, &fault.Error{Kind: fault.NoSolution, Code: p.notShown.Code, Detail: inWords(p.notShown)}
	}
	chart := dryDownChart(p.question.Order, p.projection)
	headers := openapi.GetLotDryDown200ResponseHeaders{ETag: &tag}
	if answerType(ctx) == mediaTypeSVG {
		picture, err := draw(chart.SVG)
		if err != nil {
			return nil, err
		}
		return openapi.GetLotDryDown200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len()), Headers: headers}, nil
	}
	picture, err := draw(chart.PNG)
	if err != nil {
		return nil, err
	}
	return openapi.GetLotDryDown200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len()), Headers: headers}, nil
}

// inWords says for people what a fault says.
func inWords(f *fault.Error) string {
	said := []string{f.Detail}
	for _, v := range f.Violations {
		said = append(said, v.Detail)
	}
	return strings.Join(said, "; ")
}

func writePieceDryDown(p pieceProjection, u units) openapi.PieceDryDown {
	w := openapi.PieceDryDown{Piece: p.name}
	if !p.question.Order.Stuffed.IsZero() {
		w.Question = pointerTo(writeDryDownOrder(p.question.Order, u))
	}
	if p.notShown != nil {
		w.NotShown = &openapi.Note{Code: p.notShown.Code, Text: shorten(inWords(p.notShown), maxDetail)}
		return w
	}
	answer := writeDryDownAnswer(p.question.Order, p.projection, u)
	answer.Notes = append(answer.Notes, writeNotes(p.question.Notes, pointerInBody)...)
	for i, sequence := range p.question.Entries {
		answer.WeighIns[i].Entry = pointerTo(sequence)
	}
	w.Projection = &answer
	return w
}

// writeDryDownOrder writes the question that a record asks.
func writeDryDownOrder(o drying.Order, u units) openapi.DryDownOrder {
	w := openapi.DryDownOrder{
		GreenWeight: openapi.PositiveMass(u.mass(o.Green)), StuffedAt: o.Stuffed, HungAt: optionalInstant(o.Hung), AsOfAt: optionalInstant(o.AsOf),
		TargetLossPercent: shown(o.Target.Percent()),
	}
	for _, in := range o.WeighIns {
		w.WeighIns = append(w.WeighIns, openapi.WeighIn{At: in.At, Weight: openapi.PositiveMass(u.mass(in.Weight))})
	}
	if d, known := o.Diameter.Get(); known {
		w.Diameter = pointerTo(u.length(d))
	}
	var room openapi.Room
	if t, known := o.Temperature.Get(); known {
		room.Temperature = pointerTo(u.temperature(t))
	}
	room.RelativeHumidityPercent = writeKnown(o.Humidity, quantity.RelativeHumidity.Percent)
	room.AirSpeedMPerS = writeKnown(o.AirSpeed, quantity.Speed.MetresPerSecond)
	if room != (openapi.Room{}) {
		w.Room = &room
	}
	composition := openapi.GreenComposition{
		WaterPercent: writeKnown(o.Composition.Water, quantity.Fraction.Percent), ProteinPercent: writeKnown(o.Composition.Protein, quantity.Fraction.Percent),
		FatPercent: writeKnown(o.Composition.Fat, quantity.Fraction.Percent), SaltPercent: writeKnown(o.Composition.Salt, quantity.Fraction.Percent),
		SugarPercent: writeKnown(o.Composition.Sugar, quantity.Fraction.Percent),
	}
	if composition != (openapi.GreenComposition{}) {
		w.Composition = &composition
	}
	return w
}

// writeKnown returns nil for what is not known.
func writeKnown[Q any](k material.Known[Q], number func(Q) float64) *float64 {
	q, known := k.Get()
	if !known {
		return nil
	}
	return pointerTo(shown(number(q)))
}

// GetLotFermentation answers GET /v1/lots/{lot_id}/fermentation.
func (h *handlers) GetLotFermentation(ctx context.Context, req openapi.GetLotFermentationRequestObject) (openapi.GetLotFermentationResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := h.lots.Lot(ctx, who.Shop, lot.ID(req.LotID))
	if err != nil {
		return nil, err
	}
	u := unitsOf(req.Params.Units)
	tag := madeOf(kept.Version(), strconv.FormatBool(u.us), answerType(ctx), h.version.Program, h.version.Rulebook)
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetLotFermentation304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	headers := openapi.GetLotFermentation200ResponseHeaders{ETag: &tag}
	question, err := kept.Record.State().Fermentation()
	var exposure fermentation.Exposure
	if err == nil {
		exposure, err = question.Judge()
	}
	missing, isMissing := errors.AsType[*fault.Error](err)
	if err != nil && !isMissing {
		return nil, err
	}
	if answerType(ctx) != mediaTypeJSON {
		if isMissing {
			return nil, &fault.Error{Kind: fault.NoSolution, Code: missing.Code, Detail: inWords(missing)}
		}
		return drawFermentation(ctx, question.Course, exposure, headers)
	}
	w := openapi.LotFermentation{
		LotID: req.LotID, Head: writeHead(kept.Lot.Head), Notes: writeNotes(question.Notes, pointerInBody), Cautions: fermentationCautions,
	}
	if isMissing {
		w.NotShown = &openapi.Note{Code: missing.Code, Text: shorten(inWords(missing), maxDetail)}
		return openapi.GetLotFermentation200JSONResponse{Body: w, Headers: headers}, nil
	}
	answer := writeDegreeHoursAnswer(timeline{start: inOffset(question.Start)}, question.Course, exposure, u)
	w.StartedAt, w.DegreeHours = pointerTo(inOffset(question.Start)), &answer
	w.LogEntries, w.PhReadingEntries = question.LogEntries, question.PHEntries
	return openapi.GetLotFermentation200JSONResponse{Body: w, Headers: headers}, nil
}

func drawFermentation(
	ctx context.Context, c fermentation.Course, e fermentation.Exposure, headers openapi.GetLotFermentation200ResponseHeaders,
) (openapi.GetLotFermentationResponseObject, error) {
	chart := degreeHoursChart(c, e)
	if answerType(ctx) == mediaTypeSVG {
		picture, err := draw(chart.SVG)
		if err != nil {
			return nil, err
		}
		return openapi.GetLotFermentation200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len()), Headers: headers}, nil
	}
	picture, err := draw(chart.PNG)
	if err != nil {
		return nil, err
	}
	return openapi.GetLotFermentation200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len()), Headers: headers}, nil
}
