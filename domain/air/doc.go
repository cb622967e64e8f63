// Package air answers "what does the air do to what hangs in it": the vapour it
// holds, when it drips, how strongly it draws water out of a sausage, and the
// most that a sausage can lose in a day.
//
// Air is an ideal gas at the standard pressure of 101.325 kPa. Vapour is in
// balance with liquid water, below 0 °C with super-cooled water, as a hygrometer and
// a forecast have it; over ice it is in balance only where that is said: see
// [SaturationPressureOverIce] and [Coil]. Temperatures are -40 to 100 °C; outside, each function
// reports fault.OutsideModel ("temperature").
//
// [Tell] answers for places as they are read, with what their instruments may be
// off, and holds one place against another.
//
// The relative humidity that a product is in balance with is its water activity
// (quantity.WaterActivity has it). A hygrometer is good to 3 to 5 points above 80
// percent, which near the end of drying is half of what draws the water out.
package air
