package api

import (
	"fmt"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// ReadEntry reads what the body of a kept entry tells. The body passed every
// check when it was posted; members that a later version of the contract has
// added are passed over. It returns an error for a body that can't be read, or
// names what this program does not know.
func ReadEntry(kind lot.Kind, body string) (lot.Told, error) {
	return entryReader{}.read(kind, jsontext.Value(body))
}

// entryReader reads bodies of entries; with rules those that are posted, which
// are held against them and may have no member that the contract has not.
type entryReader struct{ rules *memberRules }

// read reads a body. It reports fault.Invalid with paths from the body down.
func (r entryReader) read(kind lot.Kind, body jsontext.Value) (lot.Told, error) {
	switch kind {
	case lot.KindPlanned:
		return read(r, body, readLotOrder)
	case lot.KindMixed:
		return read(r, body, readMixed)
	case lot.KindStuffed:
		return read(r, body, readStuffed)
	case lot.KindHung:
		return read(r, body, readHung)
	case lot.KindWeighed:
		return read(r, body, readWeighed)
	case lot.KindMeasured:
		return read(r, body, readMeasured)
	case lot.KindObserved:
		return read(r, body, readObserved)
	case lot.KindNoted:
		return read(r, body, readNoted)
	case lot.KindCorrected:
		return read(r, body, r.readCorrected)
	case lot.KindRetracted:
		return read(r, body, readRetracted)
	case lot.KindConfirmed:
		return read(r, body, readConfirmed)
	}
	return lot.Told{}, fmt.Errorf("read an entry: there is no kind %d", int(kind))
}

// read decodes a body into its generated type and maps it.
func read[W any](r entryReader, body jsontext.Value, of func(bad *fault.Collector, w W) lot.Told) (lot.Told, error) {
	var w W
	if err := json.Unmarshal(body, &w, json.RejectUnknownMembers(r.rules != nil)); err != nil {
		return lot.Told{}, fmt.Errorf("read the body of an entry: %w", err)
	}
	var bad fault.Collector
	if r.rules != nil {
		bad.AddError(nil, codeInvalidValue, r.rules.check(w))
	}
	told := of(&bad, w)
	return told, bad.Err(codeInvalidValue, "the entry has no meaning as it stands")
}

// kindOf returns the kind of a posted entry, which the contract has checked.
func kindOf(body jsontext.Value) (lot.Kind, error) {
	var w struct {
		Kind string `json:"kind"`
	}
	if err := json.Unmarshal(body, &w); err != nil {
		return 0, fmt.Errorf("read the kind of an entry: %w", err)
	}
	kind, ok := lot.ParseKind(w.Kind)
	if !ok {
		return 0, fmt.Errorf("read the kind of an entry: there is no kind %q", w.Kind)
	}
	return kind, nil
}

// told returns what every entry may say, around its fact.
func told(fact lot.Fact, happenedAt *time.Time, by, lateReason *string) lot.Told {
	t := lot.Told{By: given(by), LateReason: given(lateReason), Fact: fact}
	if happenedAt != nil {
		t.HappenedAt = *happenedAt
	}
	return t
}

// given returns the zero value for an absent member.
func given[T any](member *T) T {
	if member == nil {
		var none T
		return none
	}
	return *member
}

func readLotOrder(bad *fault.Collector, w openapi.LotOrder) lot.Told {
	planned := lot.Planned{Name: w.Name, Formula: readFormula(bad, w.Formula)}
	planned.Jurisdiction, _ = rulebook.ParseJurisdiction(string(w.Rulebook))
	if w.RulesOn != nil {
		planned.RulesOn = w.RulesOn.Time
	}
	return told(planned, w.HappenedAt, w.By, w.LateReason)
}

func readMixed(bad *fault.Collector, w openapi.MixedEntry) lot.Told {
	mixed := lot.Mixed{Batch: readKnownMass(bad, fault.At("batch"), w.Batch)}
	for i, o := range w.WeighedOut {
		mixed.WeighedOut = append(mixed.WeighedOut, lot.WeighedOut{
			Name: o.Name, Weight: readMass(bad, fault.At("weighed_out", i, "weight"), o.Weight), SupplierLot: given(o.SupplierLot),
		})
	}
	return told(mixed, w.HappenedAt, w.By, w.LateReason)
}

func readStuffed(bad *fault.Collector, w openapi.StuffedEntry) lot.Told {
	var stuffed lot.Stuffed
	for i, p := range w.Pieces {
		at := fault.At("pieces", i)
		piece := lot.Piece{
			Name: p.Piece, Weight: readMass(bad, fault.At("weight").Under(at), p.Weight), Casing: given(p.Casing),
			Means: readMeans(p.Method, p.Instrument, p.CalibratedAt), Division: readKnownMass(bad, fault.At("division").Under(at), p.Division),
		}
		if p.Tare != nil {
			piece.Tare = readMass(bad, fault.At("tare").Under(at), openapi.PositiveMass(*p.Tare))
		}
		if p.Diameter != nil {
			piece.Diameter = material.Is(readIn(bad, fault.At("diameter").Under(at), lengthPerUnit, p.Diameter.Value, p.Diameter.Unit))
		}
		stuffed.Pieces = append(stuffed.Pieces, piece)
	}
	return told(stuffed, w.HappenedAt, w.By, w.LateReason)
}

func readHung(_ *fault.Collector, w openapi.HungEntry) lot.Told {
	return told(lot.Hung{Pieces: w.Pieces, Room: given(w.Room), Position: given(w.Position)}, w.HappenedAt, w.By, w.LateReason)
}

func readWeighed(bad *fault.Collector, w openapi.WeighedEntry) lot.Told {
	weighed := lot.Weighed{
		Piece: w.Piece, Weight: readMass(bad, fault.At("weight"), w.Weight), Means: readMeans(w.Method, w.Instrument, w.CalibratedAt),
		Division: readKnownMass(bad, fault.At("division"), w.Division),
	}
	if w.Tare != nil {
		weighed.Tare = material.Is(readMass(bad, fault.At("tare"), openapi.PositiveMass(*w.Tare)))
	}
	return told(weighed, w.HappenedAt, w.By, w.LateReason)
}

func readMeasured(bad *fault.Collector, w openapi.MeasuredEntry) lot.Told {
	m := lot.Measured{
		Place: lot.Air, Piece: given(w.Piece), Means: readMeans(w.Method, w.Instrument, w.CalibratedAt),
		Humidity:       readKnown(bad, fault.At("relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent),
		AirSpeed:       readKnown(bad, fault.At("air_speed_m_per_s"), quantity.MetresPerSecond, w.AirSpeedMPerS),
		PH:             readKnown(bad, fault.At("ph"), quantity.NewPH, w.Ph),
		WaterActivity:  readKnown(bad, fault.At("water_activity"), quantity.NewWaterActivity, w.WaterActivity),
		HumidityWithin: readKnown(bad, fault.At("humidity_uncertainty_percent"), quantity.Percent, w.HumidityUncertaintyPercent),
	}
	if given(w.Place) == openapi.MeasuredEntryPlaceCore {
		m.Place = lot.Core
	}
	if w.Temperature != nil {
		m.Temperature = material.Is(readTemperature(bad, fault.At("temperature"), *w.Temperature))
	}
	if d := w.TemperatureUncertainty; d != nil {
		m.TemperatureWithin = material.Is(readIn(bad, fault.At("temperature_uncertainty"), differencePerUnit, d.Value, d.Unit))
	}
	const lowestPH, highestPH, driest, wettest = 0, 14, 0, 1 // ends of the scales: an end beyond is that of the scale
	m.PHWithin = readWithin(bad, fault.At("ph"), quantity.NewPH, w.Ph, w.UncertaintyPh, lowestPH, highestPH)
	m.WaterActivityWithin = readWithin(bad, fault.At("water_activity"), quantity.NewWaterActivity, w.WaterActivity, w.UncertaintyWaterActivity, driest, wettest)
	return told(m, w.HappenedAt, w.By, w.LateReason)
}

// readWithin returns both ends of what a value may be, where both it and how far
// off it may be are given.
func readWithin[Q any](bad *fault.Collector, path fault.Path, of func(float64) (Q, error), value, off *float64, least, most float64) material.Known[quantity.Between[Q]] {
	if value == nil || off == nil {
		return material.Known[quantity.Between[Q]]{}
	}
	low, err := of(max(*value-*off, least))
	bad.AddError(path, codeInvalidValue, err)
	high, err := of(min(*value+*off, most))
	bad.AddError(path, codeInvalidValue, err)
	return material.Is(quantity.Between[Q]{Low: low, High: high})
}

func readKnownMass(bad *fault.Collector, path fault.Path, w *openapi.PositiveMass) material.Known[quantity.Mass] {
	if w == nil {
		return material.Known[quantity.Mass]{}
	}
	return material.Is(readMass(bad, path, *w))
}

func readMeans(method *openapi.Method, instrument *string, calibratedAt *time.Time) lot.Means {
	m := lot.Means{Instrument: given(instrument), CalibratedAt: given(calibratedAt)}
	m.Method, _ = lot.ParseMethod(string(given(method)))
	return m
}

func readObserved(_ *fault.Collector, w openapi.ObservedEntry) lot.Told {
	return told(lot.Observed{About: string(given(w.About)), Piece: given(w.Piece), Text: w.Text}, w.HappenedAt, w.By, w.LateReason)
}

func readNoted(_ *fault.Collector, w openapi.NotedEntry) lot.Told {
	return told(lot.Noted{Text: w.Text}, w.HappenedAt, w.By, w.LateReason)
}

func (r entryReader) readCorrected(bad *fault.Collector, w openapi.CorrectedEntry) lot.Told {
	corrected := lot.Corrected{Entry: w.Entry, Reason: w.Reason}
	kind, err := kindOf(w.Right)
	if !bad.AddError(fault.At("right"), codeInvalidValue, err) {
		if kind == lot.KindPlanned {
			corrected.Right, err = read(r, w.Right, readPlanned)
		} else {
			corrected.Right, err = r.read(kind, w.Right)
		}
		bad.AddError(fault.At("right"), codeInvalidValue, err)
	}
	return told(corrected, w.HappenedAt, w.By, w.LateReason)
}

// readPlanned reads the opening of a lot as it stands in a correction, which is
// the order of a lot that names its kind.
func readPlanned(bad *fault.Collector, w openapi.PlannedEntry) lot.Told {
	return readLotOrder(bad, openapi.LotOrder{
		Name: w.Name, Formula: w.Formula, SavedFormula: w.SavedFormula, Rulebook: w.Rulebook, RulesOn: w.RulesOn, HappenedAt: w.HappenedAt, By: w.By, LateReason: w.LateReason,
	})
}

func readRetracted(_ *fault.Collector, w openapi.RetractedEntry) lot.Told {
	return told(lot.Retracted{Entry: w.Entry, Reason: w.Reason}, w.HappenedAt, w.By, w.LateReason)
}

func readConfirmed(_ *fault.Collector, w openapi.ConfirmedEntry) lot.Told {
	return told(lot.Confirmed{Entry: w.Entry, Reason: w.Reason}, w.HappenedAt, w.By, w.LateReason)
}
