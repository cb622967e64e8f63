package api

import (
	"context"
	"strconv"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// ProjectRack answers POST /v1/dry-down/rack.
func (h *handlers) ProjectRack(_ context.Context, req openapi.ProjectRackRequestObject) (openapi.ProjectRackResponseObject, error) {
	rack, err := h.readRack(*req.Body)
	if err != nil {
		return nil, err
	}
	projection, err := drying.ProjectRack(rack)
	if err != nil {
		return nil, err
	}
	return openapi.ProjectRack200JSONResponse{Body: writeRack(*req.Body, rack, projection, unitsOf(req.Params.Units))}, nil
}

// readRack reads a rack: what is told of all pieces as of one piece, and then each.
func (h *handlers) readRack(w openapi.RackOrder) (drying.Rack, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	common := h.readDryDown(&bad, openapi.DryDownOrder{
		StuffedAt: w.StuffedAt, HungAt: w.HungAt, AsOfAt: w.AsOfAt,
		TargetLossPercent: w.TargetLossPercent, TargetWaterActivity: w.TargetWaterActivity, TargetMoistureProteinRatio: w.TargetMoistureProteinRatio,
		Diameter: w.Diameter, Room: w.Room, Airs: w.Airs, AirReadings: w.AirReadings, Equalising: w.Equalising,
		Composition: w.Composition, StopsAtLossPercent: w.StopsAtLossPercent, Earlier: w.Earlier,
	})
	var rack drying.Rack
	if w.SharePercent != nil {
		var err error
		rack.Share, err = quantity.Percent(*w.SharePercent)
		bad.AddError(fault.At("share_percent"), codeInvalidValue, err)
	}
	for i, p := range w.Pieces {
		piece := drying.RackPiece{Order: common, Count: 1}
		o := &piece.Order
		if p.Count != nil {
			piece.Count = *p.Count
		}
		o.Green = readMass(&bad, fault.At("pieces", i, "green_weight"), p.GreenWeight)
		if p.Diameter != nil {
			o.Diameter = readDiameter(&bad, fault.At("pieces", i, "diameter"), *p.Diameter)
		}
		o.WeighIns = readWeighIns(&bad, fault.At("pieces", i, "weigh_ins"), p.WeighIns)
		rack.Pieces = append(rack.Pieces, piece)
	}
	return rack, bad.Err(codeInvalidValue, "the rack has no meaning as it stands")
}

func writeRack(asked openapi.RackOrder, rack drying.Rack, p drying.RackProjection, u units) openapi.RackAnswer {
	from := hanging{inOffset(p.From)}
	w := openapi.RackAnswer{
		Model: p.Model, Count: p.Of, FromAt: from.from, Last: writeTargetDay(from, p.Last), Needed: p.Needed, Enough: writeTargetDay(from, p.Enough),
		Pieces: make([]openapi.RackPieceAnswer, 0, len(p.Pieces)), Cautions: dryingCautions,
	}
	var notes []finding.Note
	for i, piece := range p.Pieces {
		o := rack.Pieces[i].Order
		answer := openapi.RackPieceAnswer{
			Name: strconv.Itoa(i + 1), Outcome: openapi.DryDownOutcome(piece.Outcome.String()), Fitted: piece.Fitted,
			WeighIns: make([]openapi.JudgedWeighIn, 0, len(piece.Weighed)), Now: writePoint(o, hangingOf(o), piece.Now, u),
			Target: writeDryDownTarget(o, piece, u), StopsAtLossPercent: writeLosses(piece.Stops),
		}
		if name := asked.Pieces[i].Name; name != nil {
			answer.Name = *name
		}
		for k, weighed := range piece.Weighed {
			in := writeWeighIn(k, weighed, u)
			in.Pointer = fault.At("pieces", i, "weigh_ins", k).Pointer()
			answer.WeighIns = append(answer.WeighIns, in)
		}
		w.Pieces = append(w.Pieces, answer)
		notes = append(notes, p.NotesOf(i)...)
	}
	w.Notes = writeNotes(notes, pointerInBody)
	for _, source := range drying.Sources() {
		w.Sources = append(w.Sources, writeCitation(source))
	}
	return w
}
