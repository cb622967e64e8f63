package pathogen

// Organism is a pathogen that rows are about. The zero value is invalid.
type Organism int

// The organisms.
const (
	EscherichiaColi         Organism = iota + 1 // O157:H7 and others that make Shiga toxin
	Salmonella                                  // of all sorts
	Listeria                                    // monocytogenes
	StaphylococcusAureus                        // makes a toxin that survives cooking
	ProteolyticBotulinum                        // Clostridium botulinum, group I
	NonProteolyticBotulinum                     // Clostridium botulinum, group II: grows in the cold
)

var organismWords = []string{
	"", "escherichia-coli-o157-h7", "salmonella", "listeria-monocytogenes", "staphylococcus-aureus", "clostridium-botulinum-proteolytic",
	"clostridium-botulinum-non-proteolytic",
}

var organismNames = []string{
	"", "Escherichia coli O157:H7", "Salmonella", "Listeria monocytogenes", "Staphylococcus aureus", "proteolytic Clostridium botulinum",
	"non-proteolytic Clostridium botulinum",
}

// String returns the word used on the wire.
func (o Organism) String() string { return word(organismWords, int(o), "unstated") }

// Name returns the name as people write it.
func (o Organism) Name() string { return word(organismNames, int(o), "an organism that is not stated") }

// Organisms returns all of them, in order.
func Organisms() []Organism {
	return []Organism{EscherichiaColi, Salmonella, Listeria, StaphylococcusAureus, ProteolyticBotulinum, NonProteolyticBotulinum}
}

func word(words []string, i int, none string) string {
	if i <= 0 || i >= len(words) {
		return none
	}
	return words[i]
}
