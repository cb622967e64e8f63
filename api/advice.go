package api

import (
	"slices"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// readSeen reads what was seen beside a piece. The edge has checked its numbers
// against the contract; what can't be a quantity is told by readDryDownOrder, which
// is given the same body.
func readSeen(bad *fault.Collector, w openapi.DryDownOrder) drying.Seen {
	var seen drying.Seen
	if h := w.Hygrometer; h != nil {
		seen.Humidity = readKnown(bad, fault.At("hygrometer", "relative_humidity_percent"), quantity.HumidityPercent, &h.RelativeHumidityPercent)
		seen.HumidityWithin = readKnown(bad, fault.At("hygrometer", "uncertainty_percent"), quantity.HumidityPercent, h.UncertaintyPercent)
	}
	if m := w.WeighingUncertainty; m != nil {
		seen.WeighingWithin = material.Is(readMass(bad, fault.At("weighing_uncertainty"), *m))
	}
	return seen
}

// writeSeen writes into a question what was seen beside the piece.
func writeSeen(w *openapi.DryDownOrder, seen drying.Seen, u units) {
	if h, told := seen.Humidity.Get(); told {
		w.Hygrometer = &openapi.HygrometerReading{
			RelativeHumidityPercent: shown(h.Percent()), UncertaintyPercent: writeKnown(seen.HumidityWithin, quantity.RelativeHumidity.Percent),
		}
	}
	if m, told := seen.WeighingWithin.Get(); told {
		w.WeighingUncertainty = pointerTo(openapi.PositiveMass(u.mass(m)))
	}
}

func writeAdvice(o drying.Order, a drying.Advice) openapi.DryingAdvice {
	hung := hangingOf(o)
	w := openapi.DryingAdvice{
		Pace:     writePace(a.Pace),
		DryRing:  writeRing(a.Ring),
		Humidity: writeSetting(hung, a.Humidity),
		NextWeighIn: openapi.NextWeighIn{
			At: hung.at(a.Next.At), SinceHangingDays: shownDays(a.Next.At), Overdue: a.Next.Overdue,
			ExpectedLossPercent: shown(a.Next.Expected.Percent()), Text: a.Next.Why,
		},
		Steps: writeNotes(a.Steps, pointerInBody),
		Watch: writeNotes(a.Cautions, pointerInBody),
	}
	for _, from := range drying.AdviceSources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	return w
}

func writePace(p drying.Pace) openapi.DryingPace {
	w := openapi.DryingPace{
		Verdict: openapi.PaceVerdict(p.Verdict.String()), Measured: writeInterval(p.Measured), Text: p.Why, Source: writeCitation(p.Source),
	}
	if l, known := p.Limits.Get(); known {
		w.Limits = &openapi.PaceLimits{
			SlowPercentPerDay: shown(l.Slow.PercentPerDay()), ComfortablePercentPerDay: shown(l.Comfortable.PercentPerDay()),
			TooFastPercentPerDay: shown(l.TooFast.PercentPerDay()), FirstWeek: l.FirstWeek,
		}
	}
	return w
}

// writeInterval returns nil for one that is not known.
func writeInterval(k material.Known[drying.Interval]) *openapi.MeasuredLoss {
	i, known := k.Get()
	if !known {
		return nil
	}
	return &openapi.MeasuredLoss{
		FromDays: shownDays(i.From), ToDays: shownDays(i.To), PercentPerDay: shown(i.Rate.PercentPerDay()),
		LowPercentPerDay: shown(i.Within.Low.PercentPerDay()), HighPercentPerDay: shown(i.Within.High.PercentPerDay()),
	}
}

func writeRing(r drying.Ring) openapi.DryRing {
	s := openapi.DryRingSignature{
		Verdict: openapi.DryRingSignatureVerdict(r.Signature.Verdict.String()), Measured: writeInterval(r.Signature.Measured),
		BelowHalfPercent: writeKnown(r.Signature.Halved, quantity.Fraction.Percent), DriveLeftPercent: writeKnown(r.Signature.Drives, quantity.Fraction.Percent),
	}
	if expected, known := r.Signature.Expected.Get(); known {
		s.ExpectedPercentPerDay = pointerTo(writeLossRates(expected))
	}
	return openapi.DryRing{
		Level: openapi.DryRingLevel(r.Level.String()), Signature: s, Rim: writeRim(r.Rim), FastFirstWeek: writeInterval(r.History.FastFirstWeek),
		DryAirPercent: writeKnown(r.History.DryAir, quantity.RelativeHumidity.Percent), Text: r.Why, Source: writeCitation(r.Source),
	}
}

// writeRim returns nil for one that is not known.
func writeRim(k material.Known[drying.Rim]) *openapi.DryRingRim {
	r, known := k.Get()
	if !known {
		return nil
	}
	return &openapi.DryRingRim{
		OuterThirdMoisturePercent: shown(r.Outer.Percent()), InsideMoisturePercent: shown(r.Inner.Percent()),
		SurfaceWaterActivity: shown(r.Surface.Float()), CoreWaterActivity: shown(r.Core.Float()),
		DiffusivityRatio: shown(r.Quicker.Float()), Steep: r.Steep, SealedEvenDays: writeKnown(r.Even, inDays), Source: writeCitation(r.Source),
	}
}

func writeSetting(hung hanging, s drying.Setting) openapi.HumidityAdvice {
	w := openapi.HumidityAdvice{
		Action: openapi.HumidityAction(s.Action.String()), Text: s.Why,
		ValuePercent: writeKnown(s.Value, quantity.RelativeHumidity.Percent), AirPercent: writeKnown(s.Air, quantity.RelativeHumidity.Percent),
	}
	if r, known := s.Range.Get(); known {
		w.LowPercent, w.HighPercent = pointerTo(shown(r.Low.Percent())), pointerTo(shown(r.High.Percent()))
	}
	if w.AirPercent != nil {
		w.AirRead = pointerTo(s.Read)
	}
	if e, known := s.Activity.Get(); known {
		w.WaterActivity = &openapi.AdviceWaterActivityBand{
			WaterActivity: shown(e.Mid.Float()), LowWaterActivity: shown(e.Low.Float()), HighWaterActivity: shown(e.High.Float()),
		}
	}
	for _, week := range s.Weeks {
		w.Weeks = append(w.Weeks, openapi.HumidityWeek{
			FromAt: hung.at(week.From), ToAt: hung.at(week.To), FromDays: shownDays(week.From), ToDays: shownDays(week.To),
			RelativeHumidityPercent: shown(week.Humidity.Percent()), LossPercent: writeLosses(week.Loss),
		})
	}
	return w
}

// writeEvenness compares the pieces of each room that two or more of them hang in.
func writeEvenness(state lot.State, pieces []pieceProjection) []openapi.PieceSpread {
	byRoom := make(map[string][]drying.Hung)
	var rooms []string
	for _, p := range pieces {
		of, there := state.Piece(p.name)
		if !there || p.notShown != nil || of.HungAt.IsZero() {
			continue
		}
		if !slices.Contains(rooms, of.Room) {
			rooms = append(rooms, of.Room)
		}
		byRoom[of.Room] = append(byRoom[of.Room], drying.Hung{Name: p.name, Hung: of.HungAt, Diameter: of.Diameter, Weighed: p.projection.Weighed})
	}
	var w []openapi.PieceSpread
	for _, room := range rooms {
		if len(byRoom[room]) > 1 {
			w = append(w, writeSpread(room, drying.Compare(byRoom[room])))
		}
	}
	return w
}

func writeSpread(room string, s drying.Spread) openapi.PieceSpread {
	w := openapi.PieceSpread{
		Verdict: openapi.PieceSpreadVerdict(s.Verdict.String()), Pieces: make([]openapi.SpreadPiece, 0, len(s.Pieces)),
		MeanLossPercent: writeKnown(s.Mean, quantity.Loss.Percent), DeviationPercent: writeKnown(s.SD, quantity.Loss.Percent),
		UsualPercent: shown(s.Usual.Percent()), Text: s.Why, Source: writeCitation(s.Source),
	}
	if room != "" {
		w.Room = &room
	}
	for _, p := range s.Pieces {
		w.Pieces = append(w.Pieces, openapi.SpreadPiece{
			Piece: p.Name, At: p.At, LossPercent: shown(p.Loss.Percent()), OffPercent: shown(p.Off.Percent()), Lags: p.Lags, Leads: p.Leads,
		})
	}
	return w
}
