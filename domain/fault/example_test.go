package fault_test

import (
	"errors"
	"fmt"

	"greenweight/domain/fault"
)

// What is wrong with my formula? All of it at once, please.
func ExampleCollector() {
	var bad fault.Collector
	bad.Add(fault.At("parts"), "sum", "the shares sum to %d percent", 130)
	bad.AddError(fault.At("additions", 2, "rate", "value"), "minimum", errors.New("mass must be at least 0 g, got -2.5 g"))
	err := bad.Err("invalid-value", "the formula has no meaning as it stands")
	if wrong, found := errors.AsType[*fault.Error](err); found {
		for _, v := range wrong.Violations {
			fmt.Println(v.Path.Pointer(), v.Code, "-", v.Detail)
		}
	}
	// Output:
	// #/parts sum - the shares sum to 130 percent
	// #/additions/2/rate/value minimum - mass must be at least 0 g, got -2.5 g
}
