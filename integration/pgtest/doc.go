// Package pgtest gives tests a PostgreSQL to work on. It answers where a test
// finds one, and what becomes of the test when there is none.
//
// The first of these that is there is taken:
//
//  1. the server that GREENWEIGHT_TEST_POSTGRES names, as postgres://…; its
//     user may create databases. [Database] only: [Run] starts its own;
//  2. a server started on the Docker engine, from the public image that
//     GREENWEIGHT_TEST_POSTGRES_IMAGE names, such as postgres:17-alpine;
//  3. the same from an image of the packages of this machine's Debian release,
//     which the script build-image makes once and the engine keeps.
//
// Without any of them a test is skipped with a reason that begins with
// SKIPPED, or fails where CI or GREENWEIGHT_REQUIRE_DOCKER is "true" or "1", so
// that nothing passes by being skipped. What is there and does not work fails
// the test everywhere.
//
// Each test binary starts one server for all its calls of [Database]. It is
// fast and forgetful: its data are in memory, and fsync is off. The servers of
// [Run] are durable and can be stopped, killed and started again. What was started is
// removed when the tests end, even by a panic, a time limit or a signal; for
// this a package that uses either has
//
//	func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }
//
// Text is ordered as in a dictionary in the image built here, and not by its
// bytes as in SQLite: a query that needs one order on every engine asks for it.
package pgtest
