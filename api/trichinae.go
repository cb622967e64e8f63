package api

import (
	"context"
	"math"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/trichinae"
	"greenweight/openapi"
)

// ListTrichinaeRoutes answers GET /v1/reference/trichinae.
func (h *handlers) ListTrichinaeRoutes(context.Context, openapi.ListTrichinaeRoutesRequestObject) (openapi.ListTrichinaeRoutesResponseObject, error) {
	return openapi.ListTrichinaeRoutes200JSONResponse{Body: writeTrichinaeTables()}, nil
}

func writeTrichinaeTables() openapi.TrichinaeTables {
	w := openapi.TrichinaeTables{RulebookVersion: rulebook.Version()}
	for _, r := range trichinae.Hosts() {
		w.Hosts = append(w.Hosts, openapi.TrichinaeHost{
			Species: openapi.TrichinaeHostSpecies(r.Species.String()), FreezingCounts: !r.Game, Source: writeCitation(r.Source),
		})
	}
	for _, r := range trichinae.Freezings() {
		w.Freezing = append(w.Freezing, openapi.TrichinaeFreezingRow{
			ID: r.ID, Group: r.Group, Warmest: fahrenheit(r.Warmest), Thickest: inches(r.Thickest), Days: float64(r.Days), Source: writeCitation(r.Source),
			Note: optional[openapi.Text](r.Note),
		})
	}
	for _, r := range trichinae.Centres() {
		w.FreezingByCentre = append(w.FreezingByCentre, openapi.TrichinaeCentreRow{
			ID: r.ID, Warmest: fahrenheit(r.Warmest), Hours: r.Span.Hours(), Source: writeCitation(r.Source),
		})
	}
	for _, r := range trichinae.Heatings() {
		w.Heating = append(w.Heating, openapi.TrichinaeHeatingRow{
			ID: r.ID, Core: units{}.temperature(r.Core.Surely), Printed: r.Core.Printed, Hours: shown(r.Span.Hours()), Source: writeCitation(r.Source),
			Note: optional[openapi.Text](r.Note),
		})
	}
	for _, m := range trichinae.Methods() {
		w.Methods = append(w.Methods, writeTrichinaeMethod(m))
	}
	columns := trichinae.Columns()
	for _, r := range trichinae.Reductions() {
		for i, percent := range r.Percent {
			w.Method6Reductions = append(w.Method6Reductions, openapi.TrichinaeReduction{
				ID: r.ID, HeldHours: r.Held.Hours(), Coldest: fahrenheit(columns[i]), ReductionPercent: float64(percent), Source: writeCitation(r.Source),
			})
		}
	}
	for _, r := range trichinae.Increases() {
		w.Method6Increases = append(w.Method6Increases, openapi.TrichinaeIncrease{
			ID: r.ID, SaltPercent: float64(r.Tenths) / 10, IncreasePercent: float64(r.Percent), Source: writeCitation(r.Source),
		})
	}
	for _, r := range trichinae.Published() {
		w.Published = append(w.Published, writePublished(r))
	}
	for _, r := range trichinae.Papers() {
		w.Papers = append(w.Papers, openapi.TrichinaePaper{
			Route: openapi.TrichinaeRouteKind(r.Route.String()), Subject: r.Subject, ForGame: r.Game, Source: writeCitation(r.Source),
			Note: optional[openapi.Text](r.Note),
		})
	}
	return w
}

func writeTrichinaeMethod(m trichinae.Method) openapi.TrichinaeMethod {
	w := openapi.TrichinaeMethod{
		ID: m.ID, Method: openapi.TrichinaeMethodKey(m.Method.String()), Subject: m.Subject, SaltPercent: shown(m.Salt.Percent()),
		SaltOf: openapi.TrichinaeMethodSaltOf(m.SaltBase.String()), SaltPrinted: m.SaltPrinted, LargestPiece: stated(m.LargestPiece),
		Room: coldest(m.Room), Source: writeCitation(m.Source), Note: optional[openapi.Text](m.Note),
	}
	for _, b := range m.Before {
		w.Before = append(w.Before, openapi.TrichinaeWhile{
			Of: openapi.TrichinaeWhileOf(b.Of.String()), Coldest: coldest(b.Floor), Hours: b.Span.Hours(), Deepest: stated(b.Deepest),
		})
	}
	for _, r := range m.Rows {
		row := openapi.TrichinaeDryingRow{UpTo: stated(r.UpTo), Only: optional[string](r.Only), Days: float64(r.Dry)}
		if r.Total > 0 {
			row.TotalDays = pointerTo(float64(r.Total))
		}
		w.Rows = append(w.Rows, row)
	}
	return w
}

func writePublished(r trichinae.PublishedRow) openapi.TrichinaePublishedRow {
	w := openapi.TrichinaePublishedRow{
		ID: r.ID, UpToPh: r.UpTo.Float(), SaltPercent: shown(r.AtLeast.Percent()), Days: float64(r.Days),
		Fermentation: units{}.temperature(r.Ferment), Drying: units{}.temperature(r.Dry), Source: writeCitation(r.Source), Note: optional[openapi.Text](r.Note),
	}
	if r.Above.Float() > 0 {
		w.AbovePh = pointerTo(r.Above.Float())
	}
	if !r.Below.IsZero() {
		w.BelowSaltPercent = pointerTo(shown(r.Below.Percent()))
	}
	return w
}

// fahrenheit writes a temperature of a table that is printed in °F.
func fahrenheit(t quantity.Temperature) openapi.Temperature { return units{us: true}.temperature(t) }

// coldest writes a floor: in °F, unless a text prints a warmer one in °C.
func coldest(f trichinae.Floor) openapi.Temperature {
	if f.Surely.Compare(f.Least) == 0 {
		return fahrenheit(f.Least)
	}
	return units{}.temperature(f.Surely)
}

// inches writes a length of a table: in inches where it is one of eighths, which
// is how tables are printed in inches, and in millimetres otherwise.
func inches(l quantity.Length) openapi.Length {
	eighths := l.Inches() * 8
	return units{us: math.Abs(eighths-math.Round(eighths)) < 1e-9}.length(l)
}

// stated returns nil for no length.
func stated(l quantity.Length) *openapi.Length {
	if l.IsZero() {
		return nil
	}
	return pointerTo(inches(l))
}
