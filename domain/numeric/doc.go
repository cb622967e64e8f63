// Package numeric holds the numerical methods that the calculations share. It is
// the one place below the trades where a number has no unit: what goes in and
// comes out is named by whoever calls.
package numeric
