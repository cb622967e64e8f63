package api

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"greenweight/api/drawing"
	"greenweight/domain/acidification"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
	"greenweight/service/lots"
	"greenweight/service/store"
)

// mostProjected is how many pieces of a lot are projected at once: each takes
// some tens of milliseconds.
const mostProjected = 12

// mostTogether is how many are projected together.
const mostTogether = 24

// pieceProjection is a piece with its projection, or with why there is none.
type pieceProjection struct {
	name       string
	question   lot.DryDown
	projection drying.Projection
	advice     drying.Advice
	notShown   *fault.Error
}

// dryingLot is a lot whose pieces dry, and what they learned of earlier lots; nothing
// where it was not wanted.
type dryingLot struct {
	lots.Course
	state   lot.State
	lessons *lot.Lessons
}

// dryingLotOf reads a lot, and where it is to learn from them those before it.
func (h *handlers) dryingLotOf(ctx context.Context, shop store.ShopID, id lot.ID, learn bool) (dryingLot, error) {
	var l dryingLot
	var err error
	if learn {
		l.Course, err = h.lots.LotAfterOthers(ctx, shop, id)
	} else {
		l.Kept, err = h.lots.Lot(ctx, shop, id)
	}
	if err != nil {
		return l, err
	}
	l.state = l.Record.State()
	return l, nil
}

// version names all that an answer is made of.
func (l dryingLot) version() string {
	all := []string{l.Version()}
	for _, e := range l.Earlier {
		all = append(all, string(e.Lot.ID), e.Version())
	}
	for _, id := range l.Broken {
		all = append(all, "broken", string(id))
	}
	return strings.Join(all, " ")
}

// learn learns from the lots before what there is about pieces of this one.
func (l *dryingLot) learn(names []string, asOf time.Time) {
	earlier := make([]lot.Earlier, 0, len(l.Earlier))
	for _, e := range l.Earlier {
		earlier = append(earlier, lot.Earlier{ID: e.Lot.ID, Record: e.Record})
	}
	l.lessons = pointerTo(l.state.Learn(names, asOf, earlier))
}

// question asks about a piece, with what was learned.
func (l *dryingLot) question(name string, asOf time.Time) (lot.DryDown, error) {
	q, err := l.state.DryDown(name, asOf)
	if piece, there := l.state.Piece(name); err == nil && there && l.lessons != nil {
		q.Teach(piece, *l.lessons)
	}
	return q, err
}

// projectPiece projects one piece of a lot. What is missing is no error.
func projectPiece(l *dryingLot, name string, asOf time.Time) (pieceProjection, error) {
	p := pieceProjection{name: name}
	var err error
	p.question, err = l.question(name, asOf)
	if err == nil {
		p.projection, err = drying.Project(p.question.Order)
	}
	if err == nil {
		p.advice, err = drying.Advise(p.question.Order, p.projection, p.question.Seen)
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
	learn := req.Params.Learn == nil || *req.Params.Learn
	l, err := h.dryingLotOf(ctx, who.Shop, lot.ID(req.LotID), learn)
	if err != nil {
		return nil, err
	}
	names, err := piecesOf(l.state, req.Params.Piece)
	if err != nil {
		return nil, err
	}
	asOf, err := h.presentOf(l.state, names, req.Params.AsOfAt)
	if err != nil {
		return nil, err
	}
	u := unitsOf(req.Params.Units)
	tag := madeOf(l.version(), strconv.FormatBool(learn), strconv.FormatBool(u.us), answerType(ctx), h.version.Program, drying.Model,
		asOf.Format(time.RFC3339Nano), given(req.Params.Piece))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetLotDryDown304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	if learn {
		l.learn(names[:min(len(names), mostTogether)], asOf)
	}
	if answerType(ctx) != mediaTypeJSON {
		return drawPiece(ctx, &l, names, asOf, tag)
	}
	w := openapi.LotDryDown{
		LotID: req.LotID, Head: writeHead(l.Lot.Head), AsOfAt: asOf, Pieces: make([]openapi.PieceDryDown, 0, len(names)),
		Notes: openapi.Notes{}, Cautions: dryingCautions,
	}
	w.LearnedFrom = writeLessons(l.lessons)
	if len(l.Broken) > 0 {
		w.Notes = append(w.Notes, openapi.Note{Code: "broken-left-out", Text: fmt.Sprintf(
			"nothing is learned from %d of the lots before, of which %s is one: what was kept of them was changed; ask for the verification of their ledgers", len(l.Broken), l.Broken[0])})
	}
	if w.Together, err = projectTogether(&l, names, asOf, u, &w.Notes); err != nil {
		return nil, err
	}
	if more := len(names) - mostTogether; more > 0 && w.Together != nil {
		w.Notes = append(w.Notes, openapi.Note{Code: "more-together", Text: fmt.Sprintf(
			"the last piece is told of the first %d: the lot has %d more", mostTogether, more)})
	}
	all := len(names)
	if more := len(names) - mostProjected; more > 0 {
		names = names[:mostProjected]
		w.Notes = append(w.Notes, openapi.Note{Code: "more-pieces", Text: fmt.Sprintf(
			"the lot has %d more pieces: ask for each by the parameter piece", more)})
	}
	var pieces []pieceProjection
	for _, name := range names {
		p, err := projectPiece(&l, name, asOf)
		if err != nil {
			return nil, err
		}
		pieces = append(pieces, p)
		w.Pieces = append(w.Pieces, writePieceDryDown(p, u))
	}
	w.Evenness = writeEvenness(l.state, pieces)
	if more := all - len(names); more > 0 && w.Evenness != nil {
		w.Notes = append(w.Notes, openapi.Note{Code: "more-compared", Text: fmt.Sprintf(
			"only the %d pieces shown are compared: the lot has %d more", len(names), more)})
	}
	return openapi.GetLotDryDown200JSONResponse{Body: w, Headers: openapi.GetLotDryDown200ResponseHeaders{ETag: &tag}}, nil
}

// writeLessons writes what was learned from; nil for nothing.
func writeLessons(all *lot.Lessons) []openapi.DryDownLesson {
	if all == nil {
		return nil
	}
	var w []openapi.DryDownLesson
	for _, one := range all.All {
		if len(one.From) == 0 {
			continue
		}
		lesson := openapi.DryDownLesson{Room: one.Room, Casing: optional[string](one.Casing), SameCasing: one.SameCasing}
		for _, t := range one.From {
			lesson.Lots = append(lesson.Lots, openapi.TeachingLot{LotID: openapi.LotID(t.ID), Name: t.Name, Pieces: t.Pieces})
		}
		w = append(w, lesson)
	}
	return w
}

// learnedAlike reports whether pieces of a lot learned of the same room and casing, or
// none of them anything.
func (l *dryingLot) learnedAlike(names []string) bool {
	if l.lessons == nil {
		return true
	}
	lessons := make([]lot.Lesson, 0, len(names))
	for _, name := range names {
		piece, _ := l.state.Piece(name)
		lesson, learned := l.lessons.Of(piece)
		if !learned {
			lesson = lot.Lesson{}
		}
		lessons = append(lessons, lesson)
	}
	return !slices.ContainsFunc(lessons, func(one lot.Lesson) bool { return one.Room != lessons[0].Room || one.Casing != lessons[0].Casing })
}

// projectTogether projects the pieces of a lot together, those of which enough is
// known, or returns nil for fewer than two. Pieces that hang together share what was
// known before; where they did not learn alike, they are told by the lot alone, which
// a note says.
func projectTogether(l *dryingLot, all []string, asOf time.Time, u units, notes *openapi.Notes) (*openapi.LotTogether, error) {
	var rack drying.Rack
	var names []string
	for _, name := range all[:min(len(all), mostTogether)] {
		question, err := l.question(name, asOf)
		if err == nil {
			_, err = drying.Judge(question.Order)
		}
		if _, missing := errors.AsType[*fault.Error](err); missing {
			continue
		}
		if err != nil {
			return nil, err
		}
		rack.Pieces = append(rack.Pieces, drying.RackPiece{Order: question.Order})
		names = append(names, name)
	}
	if len(names) < 2 {
		return nil, nil
	}
	alike := l.learnedAlike(names)
	for i := range rack.Pieces {
		if !alike {
			rack.Pieces[i].Order.Learned = drying.Learned{}
		}
	}
	p, err := drying.ProjectRack(rack)
	if _, missing := errors.AsType[*fault.Error](err); missing {
		return nil, nil // each piece says why
	}
	if err != nil {
		return nil, err
	}
	if !alike {
		*notes = append(*notes, openapi.Note{Code: "together-not-learned", Text: "The pieces learned from different rooms or casings, or not all of them did: together they are told by this lot alone."})
	}
	from := hanging{inOffset(p.From)}
	w := openapi.LotTogether{Count: p.Of, FromAt: from.from, Last: writeTargetDay(from, p.Last)}
	for i, piece := range p.Pieces {
		o := rack.Pieces[i].Order
		w.Pieces = append(w.Pieces, openapi.TogetherPiece{
			Piece: names[i], Outcome: openapi.DryDownOutcome(piece.Outcome.String()), Now: writePoint(o, hangingOf(o), piece.Now, u), Target: writeDryDownTarget(o, piece, u),
		})
	}
	return &w, nil
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
func drawPiece(ctx context.Context, l *dryingLot, names []string, asOf time.Time, tag string) (openapi.GetLotDryDownResponseObject, error) {
	switch {
	case len(names) == 0:
		return nil, &fault.Error{Kind: fault.NoSolution, Code: "no-pieces", Detail: "nothing was stuffed yet, so that there is nothing to draw"}
	case len(names) > 1:
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry(
			"", "piece", ruleRequired, "is missing; the lot has "+strconv.Itoa(len(names))+" pieces, and a chart shows one")}}
	}
	p, err := projectPiece(l, names[0], asOf)
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
		writeSeen(w.Question, p.question.Seen, u)
	}
	if p.notShown != nil {
		w.NotShown = writeMissing(p.notShown)
		return w
	}
	answer := writeDryDownAnswer(p.question.Order, p.projection, p.advice, u)
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
		TargetLossPercent: pointerTo(shown(o.Target.Percent())),
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
	for _, a := range o.Readings {
		w.AirReadings = append(w.AirReadings, writeAirReading(a, u))
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

func writeAirReading(a drying.Air, u units) openapi.DryDownAirReading {
	w := openapi.DryDownAirReading{
		At: a.From, RelativeHumidityPercent: writeKnown(a.Humidity, quantity.RelativeHumidity.Percent), AirSpeedMPerS: writeKnown(a.AirSpeed, quantity.Speed.MetresPerSecond),
	}
	if t, known := a.Temperature.Get(); known {
		w.Temperature = pointerTo(u.temperature(t))
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
	tag := madeOf(kept.Version(), strconv.FormatBool(u.us), answerType(ctx), h.version.Program, h.version.Rulebook, acidification.Model)
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetLotFermentation304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	headers := openapi.GetLotFermentation200ResponseHeaders{ETag: &tag}
	outlook, err := kept.Record.State().Outlook()
	if err != nil {
		return nil, err
	}
	if answerType(ctx) != mediaTypeJSON {
		return drawOutlook(ctx, outlook, u, headers)
	}
	w := writeOutlook(outlook, u)
	w.LotID, w.Head = req.LotID, writeHead(kept.Lot.Head)
	return openapi.GetLotFermentation200JSONResponse{Body: w, Headers: headers}, nil
}

func writeOutlook(o lot.Outlook, u units) openapi.LotFermentation {
	w := openapi.LotFermentation{
		Notes: writeNotes(o.Question.Notes, pointerInBody), Cautions: fermentationCautions,
		NotShown: writeMissing(o.NotShown), NotProjected: writeMissing(o.NotProjected),
	}
	for _, d := range o.Due {
		w.Due = append(w.Due, openapi.Due{Code: openapi.DueCode(d.Code), ByAt: optionalInstant(d.By), Text: d.Text})
	}
	if o.Exposure != nil {
		start := inOffset(o.Question.Start)
		w.StartedAt, w.DegreeHours = &start, pointerTo(writeDegreeHoursAnswer(timeline{start: start}, o.Question.Course, *o.Exposure, u))
		w.LogEntries, w.PhReadingEntries = o.Question.LogEntries, o.Question.PHEntries
	}
	if o.Projection != nil {
		w.Projection = pointerTo(writeAcidProjection(timeline{start: inOffset(o.Acid.Start)}, *o.Projection, u))
		w.Projection.Notes = append(w.Projection.Notes, writeNotes(o.Acid.Notes, pointerInBody)...)
	}
	return w
}

// writeMissing returns nil where nothing is missing.
func writeMissing(f *fault.Error) *openapi.Note {
	if f == nil {
		return nil
	}
	return &openapi.Note{Code: f.Code, Text: shorten(inWords(f), maxDetail)}
}

// drawOutlook draws the projection above the degree-hours, or what there is of
// both.
func drawOutlook(
	ctx context.Context, o lot.Outlook, u units, headers openapi.GetLotFermentation200ResponseHeaders,
) (openapi.GetLotFermentationResponseObject, error) {
	var chart drawing.Chart
	switch {
	case o.Projection != nil && o.Exposure != nil:
		acid := acidChart(o.Acid.Order, *o.Projection, o.Exposure.Gaps, u)
		acid.Sum = sumPanel(*o.Exposure, o.Acid.Order, *o.Projection)
		chart = acid
	case o.Projection != nil:
		chart = acidChart(o.Acid.Order, *o.Projection, nil, u)
	case o.Exposure != nil:
		chart = degreeHoursChart(o.Question.Course, *o.Exposure)
	default:
		return nil, &fault.Error{Kind: fault.NoSolution, Code: o.NotShown.Code, Detail: inWords(o.NotShown)}
	}
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
