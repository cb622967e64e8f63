// Package blend answers "which cuts make the meat block I want": lean and fat
// in the shares that give the fat, moisture, protein or species wanted, as cheap
// as can be, as near as can be to the shares wished for, or as much as what is
// on hand makes. For two parts that is the square of the trade ([Square]).
//
// A blend is a linear programme. With x[j] the share of cut j, the sum of them
// 1, and v the inverse of the mass of the blend, every limit is a row without a
// constant:
//
//	fat at most F            sum (f[j] - F) x[j] <= 0
//	water:protein at most R  sum (w[j] - R p[j]) x[j] <= 0
//	pork at least S          sum over pork (1 - S) x[j] - sum over others S x[j] >= 0
//	pork before beef         sum over pork x[j] - sum over beef x[j] >= 0
//	h on hand                x[j] - h v <= 0
//	mass M in all            sum x[j] - M v = 0
//
// and the cost of a kilogram, sum c[j] x[j], is brought to its least; or the
// largest distance from a wished share, and after it the sum of them; or v, so
// that the mass is the largest. What each limit costs is its multiplier at the
// optimum. When nothing satisfies all, a smallest set of limits that clash is
// named, with what each could be while the others hold.
//
// Not covered: what mixing and binding need of the protein, hardness of fat,
// drip and trim loss before weighing. Figures of cuts are averages: what was
// measured wins.
//
// Source: Dantzig, Linear Programming and Extensions, 1963, ch. 1 and 3 (the
// blending problem), and Charnes and Cooper, Naval Research Logistics Quarterly 9
// (1962) 181 (ratios of linear functions), both from memory; meat blending as in
// Linear Programming - Meat Blending, a computer maker's manual, 1966, as quoted.
package blend
