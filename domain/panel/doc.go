// Package panel answers whether a panel of tasters told two ways of drying the
// same formula apart, how they scored them, and in which order to serve them.
//
// A taster who can tell the two apart answers rightly, and one who can't guesses:
// with a share d of such discriminators the probability of a right answer is
//
//	c = g + (1 - g) d
//
// where g is that of a guess, 1/3 in a triangle and 1/2 with pairs and with a
// reference. The right answers of independent tasters are binomial, and all
// figures are sums of exact binomial probabilities, not of a normal curve.
//
// Scores on a scale are held against each other taster by taster, by the exact
// distribution of signed ranks, and corrected for the number of attributes.
//
// It does not say which product is better, nor what a shopper would say: a panel
// is not the market. Training of tasters is not judged.
//
// Sources: ISO 4120:2021 (triangle), ISO 5495:2005 (pairs), ISO 10399:2017
// (reference), whose texts and tables were not opened here; the model is arithmetic.
// Clopper and Pearson, Biometrika 26 (1934), 404-413. Wilcoxon, Biometrics Bulletin
// 1 (1945), 80-83. Holm, Scandinavian Journal of Statistics 6 (1979), 65-70.
package panel
