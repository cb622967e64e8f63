package acidification

import (
	"greenweight/domain/fermentation"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Order is a question: how a fermentation went so far, how it is to go on, and
// what was added. Temperatures are needed, those so far or those to come; what is
// not known of the rest widens the answer.
//
// Violations name the members as fermentation.Course does, and by these paths:
// `ahead`, `ahead/0/temperature`, `ahead/0/hours`, `cultures/0`, `spontaneous`,
// `lowest_ph`, `target_ph`, `diameter`.
type Order struct {
	Course fermentation.Course // so far; without temperatures it is a plan, and Ahead is needed. Planned is not used
	Ahead  []fermentation.Step // the chamber from the end of the temperatures on, the last step holds on; empty: as it is then

	Cultures    []rulebook.CultureSpecies // what was added; where none of them acidifies, it is as if Spontaneous
	Spontaneous bool                      // no culture that acidifies was added

	// Dose is the living cells of the culture in a gram of the batter.
	Dose material.Known[quantity.CellCount]

	Diameter material.Known[quantity.Length] // of the stuffed piece, whose core is warm later than the chamber

	// Floor is both ends of the pH at which the sugar has run out. The acid may stop
	// before.
	Floor material.Known[quantity.Between[quantity.PH]]

	Target quantity.PH // wanted beside 5.3; zero for none
}
