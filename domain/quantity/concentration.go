package quantity

// Concentration is a mass in a volume of a solution. Zero value: none.
type Concentration struct{ gramsPerLitre float64 }

const (
	gramsPerLitrePerDensity = 1000        // of a density in g/mL
	litresPerGallon         = 3.785411784 // US gallon, exact; NIST SP 811, appendix B.8
	gallonsPrinted          = 100         // of pickle, in the rules that count by it
	partsPerMillion         = 1e6
)

// Holding returns the concentration of what makes up p of a solution of density
// d.
func (d Density) Holding(p PPM) Concentration {
	return Concentration{d.gramsPerMillilitre * gramsPerLitrePerDensity * p.milligramsPerKilogram / partsPerMillion}
}

// OuncesPerHundredGallons returns a concentration from avoirdupois ounces in 100
// US gallons.
func OuncesPerHundredGallons(oz float64) (Concentration, error) {
	const factor = gramsPerOunce / (gallonsPrinted * litresPerGallon)
	g, err := amount("concentration", oz, factor, "oz per 100 gal")
	return Concentration{g}, err
}

// In returns the mass fraction of the concentration in a solution of density d,
// an error when that is no number.
func (c Concentration) In(d Density) (PPM, error) {
	return PartsPerMillion(c.gramsPerLitre / (d.gramsPerMillilitre * gramsPerLitrePerDensity) * partsPerMillion)
}

// GramsPerLitre returns the concentration in grams per litre.
func (c Concentration) GramsPerLitre() float64 { return c.gramsPerLitre }

// OuncesPerHundredGallons returns the concentration in avoirdupois ounces in 100
// US gallons.
func (c Concentration) OuncesPerHundredGallons() float64 {
	return c.gramsPerLitre * gallonsPrinted * litresPerGallon / gramsPerOunce
}

// Measure returns the concentration as a measure in ounces in 100 gallons.
func (c Concentration) Measure() Measure {
	return Measure{c.OuncesPerHundredGallons(), UnitOuncesPerHundredGallons}
}

// String prints the concentration in grams per litre.
func (c Concentration) String() string { return format(c.gramsPerLitre) + " g/L" }

// MarshalJSON refuses.
func (Concentration) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
