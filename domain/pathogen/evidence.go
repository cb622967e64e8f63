package pathogen

import (
	"fmt"
	"slices"
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// DryingTime is how long one thickness took to a reduction by 5 log.
type DryingTime struct {
	Diameter quantity.Length
	Days     int
}

// Evidence is what one study found. It judges nothing: a plan that is at least as
// warm and as long as the study is told of it.
type Evidence struct {
	ID        string
	Organisms []Organism
	Found     string // as the study prints it
	Source    source.Citation

	// What a plan needs for the study to be told of; a zero is no condition.
	Ferment Warm          // of the coldest step of the fermentation, by the lower figure
	Lasting time.Duration // of the fermentation
	Then    []Stage       // fermentation, hold, smoke and heat together, in order
	Dried   bool          // drying is planned, and nothing warmer than the fermentation
	Times   []DryingTime  // the thinnest first; a casing of at most the thickest
}

// Studies returns what single studies found. They are copies, free to be changed.
func Studies() []Evidence {
	all := slices.Clone(studies)
	for i := range all {
		all[i].Organisms, all[i].Then, all[i].Times = slices.Clone(all[i].Organisms), slices.Clone(all[i].Then), slices.Clone(all[i].Times)
	}
	return all
}

var studies = []Evidence{
	{
		ID: "lebanon-bologna-1998", Organisms: []Organism{EscherichiaColi},
		Found: "Lebanon bologna of 8 h at 80 °F, 24 h at 100 °F and 24 h at 110 °F inside: about 7.8 log of Escherichia coli O157:H7 less, to below detection",
		Source: source.Citation{
			Title: "Kansas State University, report 97-309-S", Year: 1998, Trust: source.Read,
		},
		Then: []Stage{
			{Act: Hold, Warm: exactly(80), Span: 8 * time.Hour}, {Act: Hold, Warm: exactly(100), Span: 24 * time.Hour},
			{Act: Hold, Warm: exactly(110), Span: 24 * time.Hour},
		},
	},
	{
		ID: "shane-2018", Organisms: []Organism{EscherichiaColi},
		Found: "fermented with Pediococcus acidilactici at 35.6 °C and 85 % relative humidity to pH 4.6 or 5.0: 0.3 to 1.2 log less of Escherichia coli " +
			"that makes Shiga toxin by the fermentation alone, and 2.0 to 6.7 log in all with heat of 37.8 to 54.4 °C for 0.5 to 12.5 h",
		Source: source.Citation{
			Title: "Shane and others, Italian Journal of Food Safety, doi 10.4081/ijfs.2018.7250", Year: 2018, Section: "abstract", Trust: source.Read,
		},
		Ferment: Warm{quantity.MustCelsius(35.6), quantity.MustFahrenheit(96)},
	},
	{
		ID: "glass-1992", Organisms: []Organism{EscherichiaColi},
		Found: "pH 4.8, dried to a moisture to protein of 1.9, then two months at 4 °C: only about 2 log of Escherichia coli O157:H7 less",
		Source: source.Citation{
			Title: "Glass and others, Applied and Environmental Microbiology 58, 2513", Year: 1992, Section: "abstract", Trust: source.Read,
		},
		Dried: true,
	},
	{
		ID: "drying-days-2016", Organisms: []Organism{EscherichiaColi},
		Found: "dry fermented sausage of 32, 55 and 80 mm: 32, 39 and 53 days to 5 log less; with 25 % of fat in place of 17.5 %, 46 days in place of 32",
		Source: source.Citation{
			Title: "International Association for Food Protection, annual meeting, paper 12364", Year: 2016, Section: "abstract", Trust: source.Read,
		},
		Dried: true,
		Times: []DryingTime{{quantity.MustMillimetres(32), 32}, {quantity.MustMillimetres(55), 39}, {quantity.MustMillimetres(80), 53}},
	},
	{
		ID: "salmonella-listeria-2006", Organisms: []Organism{Salmonella, Listeria},
		Found: "30 °C, 55 mm, 24 to 72 h: 1.2 to 2.1 log of Salmonella less by fermentation, and less than 1 log of Listeria monocytogenes",
		Source: source.Citation{
			Title: "Journal of Food Protection 69 (4), 794", Year: 2006, Section: "abstract", Trust: source.Read,
		},
		Ferment: Warm{quantity.MustCelsius(30), quantity.MustCelsius(30)}, Lasting: 24 * time.Hour,
	},
	{
		ID: "salami-staphylococci-1981", Organisms: []Organism{StaphylococcusAureus},
		Found: "dry salami: staphylococci that were put in gained 1.2 to 3.2 log; those of the meat stayed at 2 * 10^4 per g or less. " +
			"Thermonuclease was found only above 10^7 per g, and no enterotoxin even at 10^7 per g",
		Source: source.Citation{
			Title: "Metaxopoulos and others, Journal of Food Protection 44, 347, and Applied and Environmental Microbiology 42, 863", Year: 1981,
			Section: "abstracts", Trust: source.Read,
		},
	},
}

// exactly is a temperature that is printed in °F alone.
func exactly(fahrenheit float64) Warm {
	return Warm{quantity.MustFahrenheit(fahrenheit), quantity.MustFahrenheit(fahrenheit)}
}

// Told returns a note on each study that the plan of a formula is comparable
// with: at least as warm, and of the same kind. None shows anything of the plan.
// Nothing is told of what is no raw sausage, or where no fermentation is planned.
func Told(f formula.Formula) []finding.Note {
	if !Fermented(f) || len(f.Plan.Fermentation) == 0 {
		return nil
	}
	var notes []finding.Note
	for _, e := range studies {
		if !e.comparable(f.Plan) {
			continue
		}
		text := "One study: " + e.Found + "."
		if t, ok := e.timeFor(f.Plan.Casing); ok {
			text += fmt.Sprintf(" The next thickness of it is %s, with %d days.", t.Diameter, t.Days)
		}
		notes = append(notes, finding.Note{Code: "study-" + e.ID, Text: text + " It shows nothing of this plan.", Source: e.Source})
	}
	return notes
}

// comparable reports whether a plan is of the kind of the study, and at least as
// warm and as long.
func (e Evidence) comparable(p formula.Plan) bool {
	ferment := fermenting(p)
	coolest, _ := coldest(ferment)
	var lasting time.Duration
	for _, w := range ferment {
		lasting += w.span
	}
	after := afterFermentation(p)
	warmer := slices.ContainsFunc(after, func(w while) bool { return w.temperature.Compare(coolest) > 0 })
	switch {
	case !e.Ferment.Fahrenheit.IsZero() && coolest.Compare(e.Ferment.near()) < 0:
		return false
	case lasting < e.Lasting, e.Dried && (len(p.Drying) == 0 || warmer):
		return false
	case len(e.Times) > 0:
		_, ok := e.timeFor(p.Casing)
		return ok
	case len(e.Then) > 0:
		_, kept, near := warmEnough(slices.Concat(ferment, after), e.Then)
		return kept || near
	default:
		return true
	}
}

// timeFor returns the time of the next thickness.
func (e Evidence) timeFor(c formula.PlannedCasing) (DryingTime, bool) {
	diameter, _ := c.Stuffed()
	if diameter.IsZero() {
		return DryingTime{}, false
	}
	for _, t := range e.Times {
		if diameter.Compare(t.Diameter) <= 0 {
			return t, true
		}
	}
	return DryingTime{}, false
}
