package api

import (
	"strconv"

	"greenweight/openapi"
)

// formulaDecoder reads the text of a formula that the contract has been held
// against, as [json.Unmarshal] does, for the many lines of a collection: without
// reflection, and into memory that the next line uses again. It knows the members
// that there are today. Whatever else it meets (a member that the contract has
// gained, an escape in a string) it leaves to [json.Unmarshal].
type formulaDecoder struct {
	text   string
	at     int
	gaveUp bool

	formula   openapi.Formula
	plan      openapi.Plan
	texts     slab[string]
	numbers   slab[float64]
	truths    slab[bool]
	rates     slab[openapi.Rate]
	bases     slab[openapi.Base]
	masses    slab[openapi.PositiveMass]
	cures     slab[openapi.CureChoice]
	assays    slab[openapi.Assay]
	cultures  slab[openapi.CultureFacts]
	warmth    slab[openapi.Temperature]
	parts     []openapi.Part
	additions []openapi.Addition
	ferments  []openapi.PlannedFermentation
	dryings   []openapi.PlannedDrying
}

// slab gives places for values that live as long as a line.
type slab[T any] struct {
	places []T
	used   int
}

// next returns a place with nothing in it.
func (s *slab[T]) next() *T {
	if s.used == len(s.places) {
		s.places, s.used = make([]T, 2*len(s.places)+8), 0 // those given out stay with whoever has them
	}
	p := &s.places[s.used]
	s.used++
	var none T
	*p = none
	return p
}

func (s *slab[T]) put(v T) *T {
	p := s.next()
	*p = v
	return p
}

// decode returns the formula of a text that keeps the contract, good until the
// next call; false where it gives up.
func (d *formulaDecoder) decode(text []byte) (*openapi.Formula, bool) {
	d.text, d.at, d.gaveUp = string(text), 0, false
	d.texts.used, d.numbers.used, d.truths.used, d.rates.used, d.bases.used, d.masses.used = 0, 0, 0, 0, 0, 0
	d.cures.used, d.assays.used, d.cultures.used, d.warmth.used = 0, 0, 0, 0
	d.parts, d.additions, d.ferments, d.dryings = d.parts[:0], d.additions[:0], d.ferments[:0], d.dryings[:0]
	d.formula, d.plan = openapi.Formula{}, openapi.Plan{}
	f := &d.formula
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "name":
			f.Name = d.str()
		case "product":
			f.Product = openapi.Product(d.str())
		case "parts":
			for d.open('['); d.more(']'); {
				d.parts = append(d.parts, d.part())
			}
			f.Parts = d.parts
		case "additions":
			for d.open('['); d.more(']'); {
				d.additions = append(d.additions, d.addition())
			}
			f.Additions = d.additions
			if f.Additions == nil {
				f.Additions = []openapi.Addition{}
			}
		case "plan":
			d.readPlan()
			f.Plan = &d.plan
		default:
			d.gaveUp = true
		}
	}
	return f, !d.gaveUp
}

func (d *formulaDecoder) part() (p openapi.Part) {
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "name":
			p.Name = d.texts.put(d.str())
		case "material":
			p.Material = d.str()
		case "share_percent":
			p.SharePercent = d.number()
		default:
			d.gaveUp = true
		}
	}
	return p
}

func (d *formulaDecoder) addition() (a openapi.Addition) {
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "name":
			a.Name = d.texts.put(d.str())
		case "role":
			a.Role = openapi.Role(d.str())
		case "material":
			a.Material = d.texts.put(d.str())
		case "cure":
			a.Cure = d.cure()
		case "culture":
			a.Culture = d.culture()
		case "rate":
			d.rate(&a.Rate)
		case "rehydration_water":
			a.RehydrationWater = d.rates.next()
			d.rate(a.RehydrationWater)
		case "brings_none":
			a.BringsNone = d.truths.put(d.truth())
		default:
			d.gaveUp = true
		}
	}
	return a
}

func (d *formulaDecoder) rate(r *openapi.Rate) {
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "value":
			r.Value = d.number()
		case "unit":
			r.Unit = openapi.RateUnit(d.str())
		case "base":
			r.Base = d.bases.put(openapi.Base(d.str()))
		case "per":
			r.Per = d.masses.next()
			for d.open('{'); d.more('}'); {
				switch d.name() {
				case "value":
					r.Per.Value = d.number()
				case "unit":
					r.Per.Unit = openapi.MassUnit(d.str())
				default:
					d.gaveUp = true
				}
			}
		default:
			d.gaveUp = true
		}
	}
}

func (d *formulaDecoder) cure() *openapi.CureChoice {
	c := d.cures.next()
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "key":
			c.Key = d.texts.put(d.str())
		case "assay":
			c.Assay = d.assay()
		default:
			d.gaveUp = true
		}
	}
	return c
}

func (d *formulaDecoder) assay() *openapi.Assay {
	a := d.assays.next()
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "sodium_nitrite_percent":
			a.SodiumNitritePercent = d.numbers.put(d.number())
		case "potassium_nitrite_percent":
			a.PotassiumNitritePercent = d.numbers.put(d.number())
		case "sodium_nitrate_percent":
			a.SodiumNitratePercent = d.numbers.put(d.number())
		case "potassium_nitrate_percent":
			a.PotassiumNitratePercent = d.numbers.put(d.number())
		case "salt_percent":
			a.SaltPercent = d.numbers.put(d.number())
		default:
			d.gaveUp = true
		}
	}
	return a
}

func (d *formulaDecoder) culture() *openapi.CultureFacts {
	c := d.cultures.next()
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "activity_cfu_per_g":
			c.ActivityCFUPerG = d.numbers.put(d.number())
		case "label_dose_g_per_kg":
			c.LabelDoseGPerKg = d.numbers.put(d.number())
		default:
			d.gaveUp = true
		}
	}
	return c
}

func (d *formulaDecoder) readPlan() {
	p := &d.plan
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "loss_percent":
			p.LossPercent = d.numbers.put(d.number())
		case "label_keep_refrigerated":
			p.LabelKeepRefrigerated = d.truths.put(d.truth())
		case "fermentation":
			for d.open('['); d.more(']'); {
				d.ferments = append(d.ferments, d.fermentation())
			}
			p.Fermentation = d.ferments
		case "drying":
			for d.open('['); d.more(']'); {
				d.dryings = append(d.dryings, d.drying())
			}
			p.Drying = d.dryings
		default:
			d.gaveUp = true
		}
	}
}

func (d *formulaDecoder) fermentation() (s openapi.PlannedFermentation) {
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "temperature":
			s.Temperature = d.temperature()
		case "relative_humidity_percent":
			s.RelativeHumidityPercent = d.numbers.put(d.number())
		case "hours":
			s.Hours = d.numbers.put(d.number())
		default:
			d.gaveUp = true
		}
	}
	return s
}

func (d *formulaDecoder) drying() (s openapi.PlannedDrying) {
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "temperature":
			s.Temperature = d.temperature()
		case "relative_humidity_percent":
			s.RelativeHumidityPercent = d.numbers.put(d.number())
		case "air_speed_m_per_s":
			s.AirSpeedMPerS = d.numbers.put(d.number())
		case "days":
			s.Days = d.numbers.put(d.number())
		default:
			d.gaveUp = true
		}
	}
	return s
}

func (d *formulaDecoder) temperature() *openapi.Temperature {
	t := d.warmth.next()
	for d.open('{'); d.more('}'); {
		switch d.name() {
		case "value":
			t.Value = d.number()
		case "unit":
			t.Unit = openapi.TemperatureUnit(d.str())
		default:
			d.gaveUp = true
		}
	}
	return t
}

// next passes white space and returns the byte that follows, 0 at the end or
// once the decoder has given up.
func (d *formulaDecoder) next() byte {
	if d.gaveUp {
		return 0
	}
	for d.at < len(d.text) {
		switch b := d.text[d.at]; b {
		case ' ', '\t', '\r', '\n':
			d.at++
		default:
			return b
		}
	}
	return 0
}

// open passes the bracket that begins an object or a list.
func (d *formulaDecoder) open(bracket byte) {
	if d.next() != bracket {
		d.gaveUp = true
	}
	d.at++
}

// more tells whether a member or an element follows, and passes the comma before
// it, or the bracket that ends the object or list.
func (d *formulaDecoder) more(bracket byte) bool {
	switch d.next() {
	case bracket:
		d.at++
		return false
	case ',':
		d.at++
		return true
	case 0:
		d.gaveUp = true
		return false
	}
	return true
}

// name passes the name of a member and the colon.
func (d *formulaDecoder) name() string {
	name := d.str()
	if d.next() != ':' {
		d.gaveUp = true
	}
	d.at++
	return name
}

// str passes a string without escapes.
func (d *formulaDecoder) str() string {
	if d.next() != '"' {
		d.gaveUp = true
		return ""
	}
	start := d.at + 1
	for i := start; i < len(d.text); i++ {
		switch d.text[i] {
		case '"':
			d.at = i + 1
			return d.text[start:i]
		case '\\':
			d.gaveUp = true
			return ""
		}
	}
	d.gaveUp = true
	return ""
}

// number passes a number.
func (d *formulaDecoder) number() float64 {
	d.next()
	start := d.at
	for d.at < len(d.text) {
		switch b := d.text[d.at]; {
		case b >= '0' && b <= '9', b == '.', b == '-', b == '+', b == 'e', b == 'E':
			d.at++
			continue
		}
		break
	}
	v, err := strconv.ParseFloat(d.text[start:d.at], 64)
	if err != nil {
		d.gaveUp = true
	}
	return v
}

// truth passes true or false.
func (d *formulaDecoder) truth() bool {
	b := d.next()
	word := "true"
	if b != 't' {
		word = "false"
	}
	if end := d.at + len(word); end > len(d.text) || d.text[d.at:end] != word {
		d.gaveUp = true
		return false
	}
	d.at += len(word)
	return b == 't'
}
