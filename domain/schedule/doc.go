// Package schedule answers, before anything is stuffed, whether a planned
// fermentation is one that works: by when acid must have come, whether the
// cultures grow in it, whether the air is neither so dry that the rim hardens nor
// so damp that slime grows, whether water will condense, and what is lost.
//
// A plan shows nothing: no pH is read before the start, so that the rules on
// degree-hours are never met by it. They are told for the case that pH 5.3 comes
// only at the end of each step, and at the end of the whole (package
// fermentation); what is lost is the projection before any weigh-in, through
// airs that change (package drying). The batter's water activity is as measured,
// or as estimated from the formula, or as is usual; it is taken to stay what it
// was during the fermentation, which moves the wanted humidity by less than a
// point for 5 percent of loss, less than any hygrometer shows.
//
// Not covered: how acid comes (see the projection of the pH), mould, smoke, and
// how long a cold sausage takes to come up to the chamber.
//
// Sources: those of the rules; the published guide to raw sausage that each
// finding names; the times that handbooks give; common practice, marked so.
package schedule
