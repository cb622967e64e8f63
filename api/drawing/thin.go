package drawing

// mostPoints is how many points of a line are drawn at most.
const mostPoints = 2000

// thinned returns a line of at most mostPoints points, ascending in x as given.
// Of each of 500 stretches of equal count it keeps the first, the last, the
// lowest and the highest.
func thinned(line []point) []point {
	if len(line) <= mostPoints {
		return line
	}
	const stretches = mostPoints / 4
	out := make([]point, 0, mostPoints)
	for s := range stretches {
		from, to := s*len(line)/stretches, (s+1)*len(line)/stretches
		low, high := from, from
		for i := from; i < to; i++ {
			if line[i].y < line[low].y {
				low = i
			}
			if line[i].y > line[high].y {
				high = i
			}
		}
		last := -1
		for _, i := range []int{from, min(low, high), max(low, high), to - 1} {
			if i > last {
				out = append(out, line[i])
				last = i
			}
		}
	}
	return out
}

// split cuts a line ascending in x where it ends at or goes past x; both parts
// have the point there.
func split(line []point, x float64) (before, after []point) {
	var last point
	for i, p := range line {
		switch {
		case p.x <= x:
			last = p
			continue
		case i == 0:
			return nil, line
		}
		cut := between(last, p, (x-last.x)/(p.x-last.x))
		return append(line[:i:i], cut), append([]point{cut}, line[i:]...)
	}
	return line, nil
}

// between returns the point at a part of the way from a to b.
func between(a, b point, part float64) point {
	return point{a.x + part*(b.x-a.x), a.y + part*(b.y-a.y)}
}

// above returns the parts of a line that are above a height, each with the points
// where it comes and goes.
func above(line []point, height float64) [][]point {
	var parts [][]point
	var part []point
	var last point
	for i, p := range line {
		if i > 0 && (last.y > height) != (p.y > height) {
			part = append(part, between(last, p, (height-last.y)/(p.y-last.y)))
			if p.y <= height {
				parts, part = append(parts, part), nil
			}
		}
		if p.y > height {
			part = append(part, p)
		}
		last = p
	}
	if len(part) > 0 {
		parts = append(parts, part)
	}
	return parts
}
