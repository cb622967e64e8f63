// Package moisture answers "where is the water in the piece?": what a sausage or
// a muscle has lost, how wet its rim, its core and the whole are and how that
// shows as water activity, at any time of a schedule of air.
//
// Water diffuses through the dry solids of a long cylinder or a wide slab that
// shrinks by the water it loses, and leaves through a surface of which the water
// activity is that of the mixture there (package wateractivity), against the air
// film, the casing and a membrane in series; evaporation cools the surface. Own
// finite volumes in the coordinate of the dry solids, of second order in space and
// time, conserve water to rounding.
//
// The piece is as warm as the air. Not covered: the ends of a short piece, fat and
// juice that drip, salt that moves, a crust that does not shrink, hollows, mould,
// pieces that shade each other, and a membrane that does not lie on the meat.
//
// Before any weighing the speed is known to a factor of about two: a course
// without its bands promises what nobody knows.
package moisture
