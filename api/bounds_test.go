package api

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// constructor makes a quantity of a number of the wire, or returns an error.
type constructor func(float64) error

// by makes a constructor of one of package quantity, for a number that is
// factor times as large there.
func by[T any](construct func(float64) (T, error), factor float64) constructor {
	return func(v float64) error { _, err := construct(v * factor); return err }
}

// numberOf says what a number of the contract becomes.
type numberOf struct {
	constructors map[string]constructor // by what they read
	// Whether an end of the contract's bounds is that of the quantity itself.
	// The other ends are narrower in the contract, to what is ever made.
	low, high bool
}

// numbers lists every number of the contract.
func numbers() map[string]numberOf {
	percent := map[string]constructor{"percent": by(quantity.Percent, 1)}
	ratio := map[string]constructor{"percent": by(quantity.NewRatio, 1.0/100)}
	finite := map[string]constructor{"of any kind": by(quantity.NewRatio, 1)}
	cells := map[string]constructor{"cfu_per_g": by(quantity.CFUPerGram, 1)}
	ppm := map[string]constructor{"mg_per_kg": by(quantity.PartsPerMillion, 1)}
	rates := eitherOf(masses(), volumes())
	for unit, share := range sharePerUnit {
		rates[string(unit)] = by(quantity.NewRatio, share)
	}
	differences := map[string]constructor{}
	for unit := range massPerUnit {
		differences[string(unit)] = by(quantity.NewRatio, 1) // a difference of masses has no constructor, but is finite
	}
	density := map[string]constructor{"kg_per_m3": by(quantity.GramsPerMillilitre, 1.0/kgPerM3)}
	loss := map[string]constructor{"percent": by(quantity.LossPercent, 1)}
	lossRate := map[string]constructor{"percent per day": by(quantity.LossPercentPerDay, 1)}
	ph := map[string]constructor{"ph": by(quantity.NewPH, 1)}
	humidity := map[string]constructor{"percent": by(quantity.HumidityPercent, 1)}
	speed := map[string]constructor{"m_per_s": by(quantity.MetresPerSecond, 1)}
	waterActivity := map[string]constructor{"water_activity": by(quantity.NewWaterActivity, 1)}
	pressure := map[string]constructor{"kpa": by(quantity.Kilopascals, 1)}
	vapour := map[string]constructor{"g_per_m3": by(quantity.GramsPerMillilitre, 1e-6)}
	inHours := map[string]constructor{"hours": timeOf(time.Hour)}
	inDays := map[string]constructor{"days": timeOf(24 * time.Hour)}
	degreeHours := map[string]constructor{"degc_hours": by(quantity.CelsiusHours, 1), "degf_hours": by(quantity.FahrenheitHours, 1)}
	balance := map[string]constructor{"degree-hours": by(quantity.NewRatio, 1)} // a difference has no constructor, but is finite
	number := map[string]constructor{"ratio": by(quantity.NewRatio, 1)}
	return map[string]numberOf{
		"Mass.value":                       {masses(), true, false},
		"PositiveMass.value":               {masses(), false, false},
		"OnScale.value":                    {masses(), true, false},
		"MassDifference.value":             {differences, false, false},
		"Volume.value":                     {volumes(), true, false},
		"Rate.value":                       {rates, false, false}, // a share may be of a deficit; masses and volumes: below
		"Plan.loss_percent":                {percent, true, false},
		"Part.share_percent":               {percent, true, true},
		"Plan.wanted_ph":                   {ph, false, false},
		"PickleFacts.uptake_percent":       {percent, true, true},
		"PickleFacts.density_kg_per_m3":    {map[string]constructor{"kg_per_m3": by(quantity.GramsPerMillilitre, 1.0/1000)}, false, false},
		"WeighLine.of_pickle_percent":      {percent, true, true},
		"PercentOfCure":                    {percent, true, true},
		"PercentOfMaterial":                {percent, true, true},
		"CultureFacts.activity_cfu_per_g":  {map[string]constructor{"cfu_per_g": by(quantity.CFUPerGram, 1)}, true, true},
		"CultureFacts.label_dose_g_per_kg": {map[string]constructor{"g_per_kg": by(quantity.PartsPerMillion, 1000)}, true, false},
		"WeighSheet.loss_percent":          {percent, true, false},
		"WeighLine.rounding_percent":       {ratio, false, false},
		"WeighLine.of_meat_percent":        {ratio, false, false},
		"WeighLine.of_batch_percent":       {percent, true, true},
		"WeighLine.largest_error_percent":  {ratio, false, false},
		"ReachedRate.value":                {rates, false, false},
		"AddedWater.of_meat_percent":       {ratio, false, false},
		"Amount.stuffing_loss_percent":     {percent, true, false},
		"WeighSheet.stuffing_loss_percent": {percent, true, false},
		"PartYield.usable_percent":         {percent, false, true},
		"PartToBuy.usable_percent":         {percent, false, true},
		"DensityBounds.low_kg_per_m3":      {density, false, false},
		"DensityBounds.high_kg_per_m3":     {density, false, false},
		"DensityFound.low_kg_per_m3":       {density, false, true},
		"DensityFound.middle_kg_per_m3":    {density, false, true},
		"DensityFound.high_kg_per_m3":      {density, false, true},
		"CasingLength.value":               {perUnit(lengthPerUnit), true, false},
		"FigureValue":                      {finite, false, false}, // written only
		"FindingLimit.value":               {finite, false, false}, // written only
		"LimitValue.exact":                 {ppm, true, false},
		"AmountDifference.low":             {ratio, false, false},
		"AmountDifference.high":            {ratio, false, false},

		"PercentOfCut":                         {percent, true, true},
		"PercentOfBlend":                       {percent, true, true},
		"BlendRatio":                           {number, false, false},
		"BlendComposition.water_protein_ratio": {number, false, false},
		"BlendSquare.first_ratio":              {number, false, false},
		"BlendSquare.second_ratio":             {number, false, false},
		"BindingLimit.mass_ratio":              {number, false, false},
		"BindingLimit.deviation_percent":       {ratio, false, false},
		"BlendAnswer.deviation_percent":        {percent, true, true},

		"Length.value":                {perUnit(lengthPerUnit), false, false},
		"Temperature.value":           {perUnit(temperaturePerUnit), false, false},
		"TemperatureDifference.value": {perUnit(differencePerUnit), false, false},
		"PH":                          {ph, true, true},
		"PHReading.uncertainty_ph":    {ph, true, false},

		"AcidOrder.start_ph":                  {ph, false, false},
		"AcidOrder.uncertainty_ph":            {ph, true, false},
		"AcidOrder.wanted_ph":                 {ph, false, false},
		"AcidMixture.lean_percent":            {percent, false, true},
		"AcidMixture.fat_percent":             {percent, true, false},
		"AcidAnswer.lean_percent":             {percent, true, true},
		"GramsInKilogram":                     {map[string]constructor{"g_per_kg": by(quantity.PartsPerMillion, 1000)}, true, false},
		"MillimolesInKilogram":                {map[string]constructor{"mmol_per_kg": by(quantity.MillimolesPerKilogram, 1)}, true, false},
		"FinalPHEnd.efficiency_percent":       {percent, true, true},
		"FinalPHEnd.buffer_mmol_per_kg":       {map[string]constructor{"mmol_per_kg": by(quantity.MillimolesPerKilogramPH, 1)}, true, false},
		"FinalPHEnd.undissociated_percent":    {percent, true, true},
		"EfficiencyAssumption.low_percent":    {percent, true, true},
		"EfficiencyAssumption.high_percent":   {percent, true, true},
		"CultureDoseOrder.activity_cfu_per_g": {cells, true, true},
		"CultureDoseOrder.target_cfu_per_g":   {cells, true, false},
		"CultureDoseOrder.dose_g_per_kg":      {map[string]constructor{"g_per_kg": by(quantity.PartsPerMillion, 1000)}, true, false},
		"PositiveVolume.value":                {volumes(), false, false},
		"CellsPerGram":                        {cells, true, true},
		"CultureDoseAnswer.water_percent":     {percent, true, true},
		"LaterHours":                          {inHours, false, false},
		"WaterGuide.generous_percent":         {percent, true, true},
		"WakingGuide.low_hours":               {inHours, false, false},
		"WakingGuide.high_hours":              {inHours, false, false},
		"CultureSpecies.least_water_activity": {waterActivity, true, true},

		"PHReading.after_hours":                   {inHours, false, false},
		"ChamberStep.hours":                       {inHours, false, false},
		"HoursFromStart":                          {inHours, false, false},
		"AcidProjectionOrder.dose_cfu_per_g":      {map[string]constructor{"cfu_per_g": by(quantity.CFUPerGram, 1)}, false, false},
		"AcidProjectionOrder.target_ph":           {ph, false, false},
		"AcidCrossing.not_reached_percent":        {percent, true, true},
		"AcidLimit.before_limit_percent":          {percent, true, true},
		"AcidLimit.surely_before_limit_percent":   {percent, true, true},
		"CultureAcid.lag_hours":                   {inHours, false, false},
		"CultureAcid.until_ph_5_3_hours":          {inHours, false, false},
		"LongHours":                               {map[string]constructor{"hours": by(quantity.NewRatio, 1)}, false, false}, // written only
		"DegreeHourAmount":                        {degreeHours, true, false},
		"FahrenheitSum.estimated_degf_hours":      {degreeHours, true, false},
		"FahrenheitSum.limit_degf_hours":          {degreeHours, true, false},
		"FahrenheitSum.remaining_degf_hours":      {balance, false, false},
		"FahrenheitSum.used_percent":              {ratio, false, false},
		"FahrenheitSum.above_base_hours":          {inHours, false, false},
		"CelsiusSum.estimated_degc_hours":         {degreeHours, true, false},
		"CelsiusSum.limit_degc_hours":             {degreeHours, true, false},
		"CelsiusSum.remaining_degc_hours":         {balance, false, false},
		"CelsiusSum.used_percent":                 {ratio, false, false},
		"CelsiusSum.above_base_hours":             {inHours, false, false},
		"FahrenheitSum.joined_degf_hours":         {degreeHours, true, false},
		"FahrenheitSum.stated_degf_hours":         {degreeHours, true, false},
		"FahrenheitHeadroom.limit_degf_hours":     {degreeHours, true, false},
		"FahrenheitHeadroom.remaining_degf_hours": {balance, false, false},
		"CelsiusSum.joined_degc_hours":            {degreeHours, true, false},
		"CelsiusSum.stated_degc_hours":            {degreeHours, true, false},
		"CelsiusHeadroom.limit_degc_hours":        {degreeHours, true, false},
		"CelsiusHeadroom.remaining_degc_hours":    {balance, false, false},
		"LogGap.added_degf_hours":                 {degreeHours, true, false},
		"LogGap.added_degc_hours":                 {degreeHours, true, false},
		"HourMean.over_hours":                     {inHours, false, false},
		"StatedTime.after_hours":                  {inHours, false, false},
		"DegreeHoursOrder.longest_gap_hours":      {inHours, false, false},
		"DegreeHoursAnswer.longest_gap_hours":     {inHours, false, false},
		"GrowthIndex.index":                       {number, false, false},
		"GrowthIndex.usual_low_index":             {number, false, false},
		"GrowthIndex.usual_high_index":            {number, false, false},
		"DryDownOrder.target_loss_percent":        {loss, false, false},
		"DryDownOrder.stops_at_loss_percent":      {loss, false, false},

		"HygrometerReading.relative_humidity_percent": {humidity, true, true},
		"HygrometerReading.uncertainty_percent":       {humidity, true, false},
		"DryRing.dry_air_percent":                     {humidity, true, true},
		"DryRingRim.outer_third_moisture_percent":     {percent, true, true},
		"DryRingRim.inside_moisture_percent":          {percent, true, true},
		"DryRingRim.diffusivity_ratio":                {number, false, false},
		"DryRingRim.sealed_even_days":                 {inDays, false, false},
		"DryRingSignature.below_half_percent":         {percent, true, true},
		"DryRingSignature.drive_left_percent":         {percent, true, true},
		"HumidityAdvice.air_percent":                  {humidity, true, true},
		"AdvisedHumidityPercent":                      {humidity, true, true},
		"AdviceWaterActivity":                         {waterActivity, true, true},
		"SpreadPiece.off_percent":                     {loss, false, false},
		"PieceSpread.deviation_percent":               {loss, false, false},
		"PieceSpread.usual_percent":                   {loss, false, true},
		"DryDownOrder.target_water_activity":          {waterActivity, false, true},
		"DryDownOrder.target_moisture_protein_ratio":  {number, false, false},
		"RackOrder.target_loss_percent":               {loss, false, false},
		"RackOrder.target_water_activity":             {waterActivity, false, true},
		"RackOrder.target_moisture_protein_ratio":     {number, false, false},
		"RackOrder.share_percent":                     {percent, false, true},
		"RackOrder.stops_at_loss_percent":             {loss, false, false},
		"DryDownAir.relative_humidity_percent":        {humidity, true, true},
		"DryDownAir.air_speed_m_per_s":                {speed, true, false},
		"DryDownAirReading.relative_humidity_percent": {humidity, true, true},
		"DryDownAirReading.air_speed_m_per_s":         {speed, true, false},
		"PanelTrial.alpha_percent":                    {percent, false, false},
		"PanelTrial.beta_percent":                     {percent, false, false},
		"PanelTrial.discriminators_percent":           {percent, false, true},
		"PercentOfPanel":                              {percent, true, true},
		"ScoreNumber":                                 {number, false, false},
		"ScoreEnd":                                    {number, false, false},
		"Room.relative_humidity_percent":              {humidity, true, true},
		"Room.air_speed_m_per_s":                      {speed, true, false},
		"PercentOfGreenWeight":                        {percent, true, true},
		"LossPercent":                                 {loss, false, true},
		"LossPercentPerDay":                           {lossRate, false, false},
		"DaysSinceHanging":                            {inDays, false, false},
		"DryDownAnswer.lost_before_hanging_percent":   {loss, false, true},
		"DryDownAnswer.measured_percent_per_day":      {lossRate, false, false},
		"DryDownAnswer.fastest_percent_per_day":       {lossRate, false, false},

		"CourseDays":                                      {inDays, false, false},
		"DryingPiece.casing_conductance_m_per_s":          {speed, false, false},
		"DryingPiece.diffusivity_m2_per_s":                {map[string]constructor{"m2_per_s": by(quantity.SquareMetresPerSecond, 1)}, false, false},
		"DryingPiece.moisture_fall_ratio":                 {number, false, false},
		"DryingPiece.density_kg_per_m3":                   {density, false, false},
		"DryingMembrane.wvtr_g_per_m2_day":                {map[string]constructor{"g_per_m2_day": by(quantity.GramsPerSquareMetreDay, 1)}, false, false},
		"DryingMembrane.test_humidity_difference_percent": {percent, false, true},
		"DryingStep.days":                                 {inDays, false, false},
		"DryingStep.relative_humidity_percent":            {humidity, true, true},
		"DryingStep.air_speed_m_per_s":                    {speed, true, false},
		"AirReading.since_start_days":                     {inDays, false, false},
		"AirReading.relative_humidity_percent":            {humidity, true, true},
		"DryingTarget.loss_percent":                       {loss, false, false},
		"DryingTarget.core_water_activity":                {waterActivity, false, true},
		"DryingTarget.moisture_protein_ratio":             {number, false, false},
		"DryingPoint.moisture_percent":                    {percent, true, true},
		"DryingPoint.rim_moisture_percent":                {percent, true, true},
		"DryingPoint.core_moisture_percent":               {percent, true, true},
		"DryingPoint.surface_water_activity":              {waterActivity, true, true},
		"DryingPoint.rim_water_activity":                  {waterActivity, true, true},
		"DryingPoint.outer_third_water_activity":          {waterActivity, true, true},
		"DryingPoint.mean_water_activity":                 {waterActivity, true, true},
		"DryingPoint.biot_ratio":                          {number, false, false},
		"DryingPoint.fourier_per_day":                     {number, false, false},
		"WaterActivityBand.median":                        {waterActivity, true, true},
		"WaterActivityInterval.low":                       {waterActivity, true, true},
		"WaterActivityInterval.high":                      {waterActivity, true, true},
		"DryingPlace.moisture_percent":                    {percent, true, true},
		"DryingPlace.water_per_solids_ratio":              {number, false, false},
		"DryingPlace.water_activity":                      {waterActivity, true, true},
		"LengthFromCentre.value":                          {perUnit(lengthPerUnit), true, false},
		"CourseDay.not_reached_percent":                   {percent, true, true},
		"TargetDay.not_reached_percent":                   {percent, true, true},

		"HumidityFigure.value_percent":               {humidity, true, true},
		"HumidityFigure.low_percent":                 {humidity, true, true},
		"HumidityFigure.high_percent":                {humidity, true, true},
		"PressureFigure.value_kpa":                   {pressure, true, false},
		"PressureFigure.low_kpa":                     {pressure, true, false},
		"PressureFigure.high_kpa":                    {pressure, true, false},
		"VapourFigure.value_g_per_m3":                {vapour, false, false},
		"VapourFigure.low_g_per_m3":                  {vapour, false, false},
		"VapourFigure.high_g_per_m3":                 {vapour, false, false},
		"DriveFigure.value_kpa":                      {balance, false, false},
		"DriveFigure.low_kpa":                        {balance, false, false},
		"DriveFigure.high_kpa":                       {balance, false, false},
		"GapFigure.value_percent":                    {ratio, false, false},
		"GapFigure.low_percent":                      {ratio, false, false},
		"GapFigure.high_percent":                     {ratio, false, false},
		"FilmFigure.value_m_per_s":                   {speed, true, false},
		"FilmFigure.low_m_per_s":                     {speed, true, false},
		"FilmFigure.high_m_per_s":                    {speed, true, false},
		"MostLossFigure.value_percent_per_day":       {lossRate, false, false},
		"MostLossFigure.low_percent_per_day":         {lossRate, false, false},
		"MostLossFigure.high_percent_per_day":        {lossRate, false, false},
		"RatioFigure.value_ratio":                    {number, false, false},
		"RatioFigure.low_ratio":                      {number, false, false},
		"RatioFigure.high_ratio":                     {number, false, false},
		"OpenRatioFigure.value_ratio":                {number, false, false},
		"OpenRatioFigure.low_ratio":                  {number, false, false},
		"OpenRatioFigure.high_ratio":                 {number, false, false},
		"AirPlace.relative_humidity_percent":         {humidity, true, true},
		"AirPlace.air_speed_m_per_s":                 {speed, true, false},
		"AirPlace.hygrometer_uncertainty_percent":    {humidity, true, false},
		"AirProduct.water_activity":                  {waterActivity, true, true},
		"WantedDrive.drive_kpa":                      {pressure, true, false},
		"WantedDrive.water_activity":                 {waterActivity, true, true},
		"SaltCheck.reading_percent":                  {humidity, true, true},
		"AirAnswer.equilibrium_humidity_percent":     {humidity, true, true},
		"AirState.hygrometer_uncertainty_percent":    {humidity, true, false},
		"SignedTemperatureDifference.value":          {perUnit(differencePerUnit), false, false},
		"SaltCheckAnswer.reading_percent":            {humidity, true, true},
		"SaltCheckAnswer.expected_percent":           {humidity, true, true},
		"SaltCheckAnswer.add_percent":                {ratio, false, false},
		"TargetOrder.water_activity":                 {waterActivity, false, true},
		"TargetOrder.moisture_protein_ratio":         {number, false, false},
		"TargetOrder.relative_humidity_percent":      {humidity, true, true},
		"TargetOrder.hygrometer_uncertainty_percent": {humidity, true, false},
		"AskedLoss": {loss, false, false},
		"TargetAnswer.hygrometer_uncertainty_percent": {humidity, true, false},
		"Makeup.moisture_percent":                     {percent, true, true},
		"Makeup.protein_percent":                      {percent, true, true},
		"Makeup.fat_percent":                          {percent, true, true},
		"Makeup.salt_percent":                         {percent, true, true},
		"Makeup.water_phase_salt_percent":             {percent, true, true},
		"Makeup.salt_in_water_percent":                {ratio, false, false},
		"Makeup.moisture_protein_ratio":               {number, false, false},
		"Makeup.salt_alone_water_activity":            {waterActivity, true, true},
		"ActivityEstimate.water_activity":             {waterActivity, true, true},
		"ActivityInterval.low_water_activity":         {waterActivity, true, true},
		"ActivityInterval.high_water_activity":        {waterActivity, true, true},

		"DryingTrial.target_loss_percent":   {loss, false, false},
		"MeasuredWaterActivity":             {waterActivity, true, true},
		"FinalMeasurement.moisture_percent": {percent, true, true},
		"DryingComparison.common_days":      {inDays, false, false},
		"ComparedCourse.ends_days":          {inDays, false, false},
		"MeanLossPoint.spread_percent":      {loss, false, true},
		"ComparedRatio":                     {number, false, false},
		"ComparedFigure":                    {finite, false, false}, // written only
		"AirContrast.water_activity":        {waterActivity, true, true},
		"AirContrast.first_drive_kpa":       {finite, false, false}, // less than nothing where the product takes up water
		"AirContrast.course_drive_kpa":      {finite, false, false},

		"MeasuredEntry.relative_humidity_percent":       {humidity, true, true},
		"MeasuredEntry.humidity_uncertainty_percent":    {percent, true, false},
		"MeasuredEntry.humidity_division_percent":       {percent, true, false},
		"MeasuredEntry.air_speed_m_per_s":               {speed, true, false},
		"MeasuredEntry.uncertainty_ph":                  {ph, true, false},
		"MeasuredEntry.division_ph":                     {ph, true, false},
		"MeasuredEntry.water_activity":                  {waterActivity, true, true},
		"MeasuredEntry.uncertainty_water_activity":      {waterActivity, true, false},
		"MeasuredEntry.division_water_activity":         {waterActivity, true, false},
		"PlannedFermentation.relative_humidity_percent": {humidity, true, true},
		"PlannedFermentation.hours":                     {inHours, false, false},
		"PlannedDrying.relative_humidity_percent":       {humidity, true, true},
		"PlannedDrying.air_speed_m_per_s":               {speed, true, false},
		"PlannedDrying.days":                            {inDays, false, false},
		"PlannedFreezing.days":                          {inDays, false, false},
		"PlannedFreezing.hours":                         {inHours, false, false},
		"PlannedHold.relative_humidity_percent":         {humidity, true, true},
		"PlannedHold.hours":                             {inHours, false, false},
		"PlannedWarmth.relative_humidity_percent":       {humidity, true, true},
		"PlannedWarmth.hours":                           {inHours, false, false},
		"PlannedWarmth.core_hours":                      {inHours, false, false},

		"TrichinaeFreezingRow.days":                   {inDays, false, false},
		"TrichinaeCentreRow.hours":                    {inHours, false, false},
		"TrichinaeHeatingRow.hours":                   {inHours, false, false},
		"TrichinaeMethod.salt_percent":                {percent, true, true},
		"TrichinaeWhile.hours":                        {inHours, false, false},
		"FiveLogStage.hours":                          {inHours, false, false},
		"FiveLogStage.relative_humidity_percent":      {humidity, true, true},
		"FiveLogStage.moisture_protein_ratio":         {number, false, false},
		"UncertaintyPH":                               {ph, true, false},
		"PathogenReadings.water_activity":             {waterActivity, true, true},
		"PathogenReadings.uncertainty_water_activity": {waterActivity, true, false},

		"WaterActivitySample.water_activity":             {waterActivity, true, true},
		"WaterActivitySample.uncertainty_water_activity": {waterActivity, true, false},
		"PHSample.uncertainty_ph":                        {ph, true, false},
		"FinishAnalysis.moisture_percent":                {percent, true, true},
		"FinishAnalysis.uncertainty_moisture_percent":    {percent, true, false},
		"FinishAnalysis.protein_percent":                 {percent, true, true},
		"FinishAnalysis.uncertainty_protein_percent":     {percent, true, false},
		"FinishAnalysis.salt_percent":                    {percent, true, true},
		"FinishAnalysis.uncertainty_salt_percent":        {percent, true, false},
		"FinishAnalysis.fat_percent":                     {percent, true, true},
		"StatedFermentation.degf_hours":                  {degreeHours, true, false},
		"StatedFermentation.degc_hours":                  {degreeHours, true, false},
		"StatedFermentation.uncertainty_ph":              {ph, true, false},
		"ResidualNitrite.amount_mg_per_kg":               {ppm, true, false},
		"ResidualNitrite.uncertainty_mg_per_kg":          {ppm, true, false},
		"LaboratoryResult.count_cfu_per_g":               {cells, true, false},
		"FinishOrder.since_stuffing_days":                {inDays, false, false},
		"NodeLimit.value":                                {finite, false, false}, // written only
		"UsualUncertainty.value":                         {finite, false, false}, // written only
		"FinishIdentity.moisture_protein_ratio":          {number, false, false},
		"EstimatedWaterActivity.loss_percent":            {loss, false, true},
		"EstimatedWaterActivity.water_activity":          {waterActivity, true, true},
		"EstimatedWaterActivity.low80_water_activity":    {waterActivity, true, true},
		"EstimatedWaterActivity.high80_water_activity":   {waterActivity, true, true},
		"EstimatedWaterActivity.low95_water_activity":    {waterActivity, true, true},
		"EstimatedWaterActivity.high95_water_activity":   {waterActivity, true, true},
		"EstimatedWaterActivity.moisture_percent":        {percent, true, true},
		"EstimatedWaterActivity.moisture_protein_ratio":  {number, false, false},
		"TrichinaeDryingRow.days":                        {inDays, false, false},
		"TrichinaeDryingRow.total_days":                  {inDays, false, false},
		"TrichinaeReduction.held_hours":                  {inHours, false, false},
		"TrichinaeReduction.reduction_percent":           {percent, true, true},
		"TrichinaeIncrease.salt_percent":                 {percent, true, true},
		"TrichinaeIncrease.increase_percent":             {percent, true, true},
		"TrichinaePublishedRow.salt_percent":             {percent, true, true},
		"TrichinaePublishedRow.below_salt_percent":       {percent, true, true},
		"TrichinaePublishedRow.days":                     {inDays, false, false},

		"ScheduleOrder.water_activity":                  {waterActivity, false, true},
		"ScheduleOrder.hygrometer_uncertainty_percent":  {humidity, true, false},
		"ScheduleStep.relative_humidity_percent":        {humidity, true, true},
		"ScheduleStep.air_speed_m_per_s":                {speed, true, false},
		"ScheduleStep.hours":                            {inHours, false, false},
		"ScheduleAnswer.hygrometer_uncertainty_percent": {humidity, true, false},
		"ScheduleOutlook.relative_humidity_percent":     {humidity, true, true},
		"ScheduleOutlook.air_speed_m_per_s":             {speed, true, false},
		"ScheduleOutlook.hours":                         {inHours, false, false},
		"ScheduleOutlook.end_hours":                     {inHours, false, false},
		"HumidityGap.gap_percent":                       {ratio, false, false},
		"HumidityGap.low_percent":                       {ratio, false, false},
		"HumidityGap.high_percent":                      {ratio, false, false},
		"HumidityGap.wanted_low_percent":                {humidity, true, true},
		"HumidityGap.wanted_high_percent":               {humidity, true, true},
		"PlannedFahrenheitSum.above_base_hours":         {inHours, false, false},
		"PlannedCelsiusSum.above_base_hours":            {inHours, false, false},
		"BatterWaterActivity.water_activity":            {waterActivity, true, true},
		"BatterWaterActivity.low":                       {waterActivity, true, true},
		"BatterWaterActivity.high":                      {waterActivity, true, true},
	}
}

func masses() map[string]constructor { return perUnit(massPerUnit) }

func volumes() map[string]constructor { return perUnit(volumePerUnit) }

// perUnit makes constructors of those of a dimension.
func perUnit[T any, U ~string](units map[U]func(float64) (T, error)) map[string]constructor {
	of := make(map[string]constructor)
	for unit, construct := range units {
		of[string(unit)] = by(construct, 1)
	}
	return of
}

// timeOf makes times of so many units, which a time.Duration must be able to
// hold.
func timeOf(unit time.Duration) constructor {
	return func(v float64) error {
		if math.Abs(v*float64(unit)) >= math.MaxInt64 {
			return errors.New("too long")
		}
		return nil
	}
}

// eitherOf returns what is in either.
func eitherOf(a, b map[string]constructor) map[string]constructor {
	for k, v := range b {
		a[k] = v
	}
	return a
}

// contractNumbers returns the number schemas of the contract: those with a name,
// and the members of objects that are given in place.
func contractNumbers(t *testing.T) map[string]*openapi3.Schema {
	t.Helper()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	found := make(map[string]*openapi3.Schema)
	for name, schema := range document.Components.Schemas {
		if schema.Value.Type.Is(openapi3.TypeNumber) {
			found[name] = schema.Value
		}
		for member, of := range schema.Value.Properties {
			if of.Ref == "" && of.Value.Type.Is(openapi3.TypeNumber) {
				found[name+"."+member] = of.Value
			}
		}
	}
	return found
}

// What the contract lets in must become a quantity; and where it stops at the
// end of what a quantity can be, so must the quantity.
func TestBoundsOfContractAndConstructors(t *testing.T) {
	t.Parallel()
	known, inContract := numbers(), contractNumbers(t)
	for name, schema := range inContract {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			number, found := known[name]
			if !found || len(number.constructors) == 0 {
				t.Fatal("nothing says which quantity this number becomes")
			}
			if schema.Min == nil || schema.Max == nil {
				t.Fatal("the contract gives no bounds")
			}
			low, high := *schema.Min, *schema.Max
			below, above := math.Nextafter(low, math.Inf(-1)), math.Nextafter(high, math.Inf(1))
			if schema.ExclusiveMin.IsTrue() {
				low = math.Nextafter(low, math.Inf(1))
			}
			if schema.ExclusiveMax.IsTrue() {
				high = math.Nextafter(high, math.Inf(-1))
			}
			for unit, construct := range number.constructors {
				for _, v := range []float64{low, high} {
					if err := construct(v); err != nil {
						t.Errorf("%v %s is in the contract, but: %v", v, unit, err)
					}
				}
				if number.low {
					wantRefused(t, construct, below, unit)
				}
				if number.high {
					wantRefused(t, construct, above, unit)
				}
			}
		})
	}
	for name := range known {
		if inContract[name] == nil {
			t.Errorf("%s is no number of the contract", name)
		}
	}
}

// wantRefused checks that a constructor refuses v for its size.
func wantRefused(t *testing.T, construct constructor, v float64, unit string) {
	t.Helper()
	if _, refused := errors.AsType[*quantity.RangeError](construct(v)); !refused {
		t.Errorf("%v %s is outside the contract, and yet becomes a quantity", v, unit)
	}
}

// An amount for a mass of meat is never negative, nor is a share of the batch,
// which is at most all of it: the rule on the unit of a rate is the bound of
// the fraction.
func TestBoundsOfRates(t *testing.T) {
	t.Parallel()
	under := -math.SmallestNonzeroFloat64
	for unit, construct := range eitherOf(masses(), volumes()) {
		wantRefused(t, construct, under, unit)
	}
	for unit, share := range sharePerUnit {
		whole, isShare := wholeOf(unit)
		if !isShare {
			t.Errorf("%s is a share and has no whole", unit)
		}
		ofBatch := by(quantity.NewFraction, share)
		for _, v := range []float64{0, whole} {
			if err := ofBatch(v); err != nil {
				t.Errorf("%v %s of the batch: %v", v, unit, err)
			}
		}
		for _, v := range []float64{-1e-9, whole * (1 + 1e-15)} {
			if ofBatch(v) == nil {
				t.Errorf("%v %s of the batch becomes a fraction", v, unit)
			}
		}
	}
}

// Every unit of the contract can be read, and none beside.
func TestUnitsOfContractAndConstructors(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	for name, constructors := range map[string]map[string]constructor{
		"MassUnit": masses(), "VolumeUnit": volumes(), "RateUnit": numbers()["Rate.value"].constructors,
		"LengthUnit": perUnit(lengthPerUnit), "TemperatureUnit": perUnit(temperaturePerUnit),
	} {
		var want, got []string
		for _, word := range document.Components.Schemas[name].Value.Enum {
			unit, _ := word.(string)
			want = append(want, unit)
		}
		for unit := range constructors {
			got = append(got, unit)
		}
		slices.Sort(want)
		slices.Sort(got)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// What is read in a unit is written as the same number in it.
func TestUnitsReadAsTheyAreWritten(t *testing.T) {
	t.Parallel()
	for unit, construct := range massPerUnit {
		m, err := construct(2.5)
		if got := massIn(m, unit); err != nil || math.Abs(got-2.5) > 1e-14 {
			t.Errorf("2.5 %s comes back as %v, %v", unit, got, err)
		}
	}
	for unit, construct := range volumePerUnit {
		v, err := construct(2.5)
		if got := volumeIn(v, unit); err != nil || math.Abs(got-2.5) > 1e-14 {
			t.Errorf("2.5 %s comes back as %v, %v", unit, got, err)
		}
	}
}
