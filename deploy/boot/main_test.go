package boot

import (
	"os"
	"testing"
	_ "time/tzdata" // tests name zones that a machine may not have

	"greenweight/integration/pgtest"
)

func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }
