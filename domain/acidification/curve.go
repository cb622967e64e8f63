package acidification

import (
	"math"

	"greenweight/domain/source"
)

// shape is how the pH falls: a course from 0 to 1 whose steepest fall is 1, and
// whose tangent there begins at 0. The zero value is invalid.
type shape int

const (
	gompertz shape = iota + 1
	logistic
	slowing
)

// shapes are those that are held to be equally likely before any reading.
var shapes = [...]shape{gompertz, logistic, slowing}

// curveSource is that of the curves.
func curveSource() source.Citation {
	return source.Citation{
		Title: "M. H. Zwietering, I. Jongenburger, F. M. Rombouts and K. van 't Riet, Modeling of the bacterial growth curve, Applied and Environmental Microbiology 56:1875",
		Year:  1990, Section: "table 2", Trust: source.Memory,
		Note: "modified Gompertz and logistic curves, recalled; the third, slower towards its end, is this project's own, laid along simulations of growth that its own acid slows down",
	}
}

// The slowing curve is x(s) = c + b ln s - d ln(1 - s). Its steepest fall, 1 /
// (sqrt b + sqrt d)², is 1; it is steepest at s = 0.3, where the tangent asks for
// x = 0.3. With b = d = 1/4 it would be the logistic one.
const (
	slowingStart = 0.09
	slowingEnd   = 0.49
)

var slowingShift = 0.3 - slowingStart*math.Log(0.3) + slowingEnd*math.Log(0.7)

// of returns the part of the fall that has come at x.
func (s shape) of(x float64) float64 {
	switch s {
	case gompertz:
		return math.Exp(-math.Exp(1 - math.E*x))
	case logistic:
		return 1 / (1 + math.Exp(2-4*x))
	default:
		return slowed(x)
	}
}

// when returns x at a part of the fall between 0 and 1.
func (s shape) when(part float64) float64 {
	switch s {
	case gompertz:
		return (1 - math.Log(-math.Log(part))) / math.E
	case logistic:
		return (2 - math.Log(1/part-1)) / 4
	default:
		return slowingShift + slowingStart*math.Log(part) - slowingEnd*math.Log1p(-part)
	}
}

// The slowing curve by x, at equal distances: its inverse has no closed form. The
// error of straight lines between is at most 1e-5.
const (
	slowedFrom, slowedTo = -1.5, 6.0
	slowedSteps          = 1500
)

var slowedTable = func() (table [slowedSteps + 1]float64) {
	for i := range table {
		x := slowedFrom + (slowedTo-slowedFrom)*float64(i)/slowedSteps
		low, high := 0.0, 1.0
		for range 60 {
			middle := (low + high) / 2
			if slowing.when(middle) < x {
				low = middle
			} else {
				high = middle
			}
		}
		table[i] = (low + high) / 2
	}
	return table
}()

func slowed(x float64) float64 {
	at := (x - slowedFrom) / (slowedTo - slowedFrom) * slowedSteps
	switch {
	case !(at > 0):
		return slowedTable[0]
	case at >= slowedSteps:
		return 1 - (1-slowedTable[slowedSteps])*math.Exp(-(x-slowedTo)/slowingEnd)
	}
	i := int(at)
	part := at - float64(i)
	return slowedTable[i] + part*(slowedTable[i+1]-slowedTable[i])
}

// curve is a course of the pH in thermal time.
type curve struct {
	shape         shape
	start, floor  float64 // pH
	steepest, lag float64 // pH an hour, and hours, at the best temperature
	stretch       float64 // by which the time that is still to come is longer than the curve says
}

// ph returns the pH at a thermal time.
func (c *curve) ph(thermal float64) float64 {
	drop := c.start - c.floor
	return c.start - drop*c.shape.of(c.steepest*(thermal-c.lag)/drop)
}
