package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"

	"greenweight/service/store"
)

const (
	readers   = 4
	batchSize = 64                   // Updates that are committed together at most
	batchWork = 5 * time.Millisecond // after which no more are taken in
	turnWait  = 10 * time.Second     // for a turn to write, or a connection to read
)

// sqliteStore is an SQLite file in the mode that keeps a write-ahead log.
//
// One goroutine owns the connection that writes. It lends it to the goroutine of
// each Update in turn, within a savepoint of one transaction, and commits when
// nobody waits or the batch is full: an Update that fails takes only its own
// savepoint back, and a function that panics does so in its own goroutine.
type sqliteStore struct {
	path    string
	options Options
	logger  *slog.Logger

	writerDB, readerDB *sql.DB
	writer             *connection
	idle               chan *connection // readers; nil for one that is to be opened anew

	queue    chan *turn
	stop     chan struct{}
	stopped  chan struct{}
	blocked  atomic.Bool // another process may be writing
	commits  atomic.Int64
	accepted atomic.Int64 // Updates that were kept
}

// openSQLite opens the file, which is made when it is to be migrated.
func openSQLite(ctx context.Context, path string, options Options) (_ *sqliteStore, err error) {
	if err := prepareFile(path, options.Migrate); err != nil {
		return nil, err
	}
	if options.Migrate {
		if _, _, err := migrateSQLite(ctx, path, latest()); err != nil {
			return nil, err
		}
	}
	s := &sqliteStore{
		path: path, options: options, logger: options.Logger,
		idle: make(chan *connection, readers), queue: make(chan *turn), stop: make(chan struct{}), stopped: make(chan struct{}),
	}
	if s.options.turn == 0 {
		s.options.turn = turnWait
	}
	if s.writerDB, err = driver.Open(fileURI(path, slices.Concat(options.driver, []string{"_txlock", "immediate"})...)); err != nil {
		return nil, sqliteProblem(path, err)
	}
	if s.readerDB, err = driver.Open(fileURI(path, slices.Concat(options.driver, []string{"_pragma", "query_only(on)"})...)); err != nil {
		return nil, sqliteProblem(path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.closeHandles())
		}
	}()
	s.writerDB.SetMaxOpenConns(1)
	s.readerDB.SetMaxOpenConns(readers)
	if s.writer, err = connect(ctx, s.writerDB); err != nil {
		return nil, sqliteProblem(path, err)
	}
	for range readers {
		s.idle <- nil
	}
	if err = s.tryOut(ctx); err != nil {
		return nil, err
	}
	go s.write()
	return s, nil
}

// tryOut sees whether the schema fits and the file can be written.
func (s *sqliteStore) tryOut(ctx context.Context) error {
	version, err := sqliteVersion(ctx, plainSession{s.writer.conn})
	if err != nil {
		return sqliteProblem(s.path, err)
	}
	if err := schemaFault(version, latest()); err != nil {
		return err
	}
	if err := logAhead(ctx, plainSession{s.writer.conn}); err != nil {
		return sqliteProblem(s.path, err)
	}
	err = s.writer.run(ctx, "BEGIN IMMEDIATE")
	if errors.Is(err, sqlite3.BUSY) {
		return nil // somebody is writing it
	}
	if err == nil {
		err = s.writer.run(ctx, "ROLLBACK")
	}
	if err != nil {
		return sqliteProblem(s.path, err)
	}
	return nil
}

// fileURI names a file to the driver, with pragmas for every connection: sync
// at each commit, because without it a power cut loses what was acknowledged.
// More parameters come in pairs of a name and a value.
func fileURI(path string, more ...string) string {
	parameters := url.Values{
		"_pragma": {"busy_timeout(5000)", "foreign_keys(on)", "synchronous(FULL)", "temp_store(memory)", "journal_size_limit(67108864)"},
		"modeof":  {path}, // the log beside the file is for the same eyes
		"vfs":     {files()},
	}
	for i := 0; i+1 < len(more); i += 2 {
		if more[i] != "_pragma" {
			parameters.Del(more[i])
		}
		parameters.Add(more[i], more[i+1])
	}
	query := strings.ReplaceAll(parameters.Encode(), "+", "%20") // SQLite takes a + as it is
	return (&url.URL{Scheme: "file", Path: path, RawQuery: query}).String()
}

// logAhead makes a file keep its log ahead of what it tells, which lasts. The
// other connections must not look at it meanwhile, and SQLite does not wait for
// them by itself.
func logAhead(ctx context.Context, db plainSession) error {
	bounded, cancel := context.WithTimeout(ctx, turnWait)
	defer cancel()
	for {
		mode, err := all(ctx, &transaction{session: db, dialect: sqliteDialect{}},
			func(row scanner) (mode string, err error) { return mode, row.Scan(&mode) }, `PRAGMA journal_mode = WAL`)
		switch {
		case err == nil && len(mode) == 1 && mode[0] == "wal":
			return nil
		case err == nil:
			return fmt.Errorf("%w: its disk can't keep a log beside it", store.ErrUnavailable)
		case !errors.Is(err, sqlite3.BUSY):
			return err
		}
		again := time.NewTimer(10 * time.Millisecond)
		select {
		case <-again.C:
		case <-bounded.Done():
			again.Stop()
			return err
		}
	}
}

// prepareFile says in words for people why a file can't be used, and makes it,
// for its owner only, when it may.
func prepareFile(path string, create bool) error {
	folder := filepath.Dir(path)
	switch info, err := os.Stat(folder); {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w: the folder %s does not exist; make it, or name a file in another", ErrNoFile, folder)
	case err != nil:
		return fmt.Errorf("%w: the folder %s can't be read: %w", ErrNoFile, folder, err)
	case !info.IsDir():
		return fmt.Errorf("%w: %s is no folder", ErrNoFile, folder)
	}
	switch info, err := os.Stat(path); {
	case errors.Is(err, fs.ErrNotExist) && !create:
		return fmt.Errorf("%w: there is no %s; `greenweight migrate` makes it", ErrNoFile, path)
	case errors.Is(err, fs.ErrNotExist):
		return makeFile(path, folder)
	case err != nil:
		return fmt.Errorf("%w: %s can't be read: %w", ErrNoFile, path, err)
	case info.IsDir():
		return fmt.Errorf("%w: %s is a folder; name a file in it", ErrNotDatabase, path)
	}
	return nil
}

func makeFile(path, folder string) error {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600) //nolint:gosec // the file is the one that whoever starts the program names
	if err == nil {
		err = file.Close()
	}
	if err == nil {
		err = syncFolder(folder)
	}
	switch {
	case err == nil:
		return nil
	case full(err):
		return fmt.Errorf("%w: there is no room for %s: %w", store.ErrFull, path, err)
	}
	return fmt.Errorf("%w: %s can't be made; let the program write to the folder %s: %w", store.ErrReadOnly, path, folder, err)
}

// syncFolder makes the names in a folder last.
func syncFolder(folder string) error {
	dir, err := os.Open(folder) //nolint:gosec // see makeFile
	if err != nil {
		return err
	}
	err = dir.Sync()
	return errors.Join(err, dir.Close())
}

// sqliteProblem says in words for people what an error on opening means.
func sqliteProblem(path string, err error) error {
	meaning := sqliteDialect{}.sentinel(err)
	var advice string
	switch {
	case errors.Is(meaning, ErrNotDatabase):
		advice = "is no SQLite database; name another file, or restore a backup"
	case errors.Is(meaning, ErrDamaged):
		advice = "is damaged; restore a backup"
	case errors.Is(meaning, store.ErrReadOnly):
		advice = "or its folder can't be written; let the program write to both"
	case errors.Is(meaning, store.ErrFull):
		advice = "can't grow; make room on the disk"
	case errors.Is(meaning, store.ErrUnavailable):
		advice = "can't be used now; see whether another program holds it, and whether the disk is sound"
	default:
		return fmt.Errorf("%s: %w", path, err)
	}
	return fmt.Errorf("%w: %s %s: %w", meaning, path, advice, err)
}

// sqliteDialect knows the errors of SQLite.
type sqliteDialect struct{}

func (sqliteDialect) sentinel(err error) error {
	var code sqlite3.ErrorCode
	switch {
	case full(err), errors.Is(err, sqlite3.IOERR_SHMSIZE): // which comes of making the index of the log larger
		return store.ErrFull
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return store.ErrReadOnly
	case errors.Is(err, syscall.EMFILE), errors.Is(err, syscall.ENFILE):
		return store.ErrUnavailable
	case !errors.As(err, &code):
		return nil
	}
	switch code {
	case sqlite3.FULL:
		return store.ErrFull
	case sqlite3.READONLY, sqlite3.CANTOPEN, sqlite3.PERM, sqlite3.AUTH:
		return store.ErrReadOnly
	case sqlite3.IOERR, sqlite3.BUSY, sqlite3.LOCKED, sqlite3.PROTOCOL, sqlite3.NOMEM, sqlite3.INTERRUPT:
		return store.ErrUnavailable
	case sqlite3.CORRUPT:
		return ErrDamaged
	case sqlite3.NOTADB:
		return ErrNotDatabase
	default:
		return nil
	}
}

func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

// uncertain reports whether a COMMIT that failed may have left a log in which it
// is whole: one that was written but not synced, or synced but not announced to
// the other connections. To them it is not there, and the next commit writes
// over it; but when the machine stops before that, it will be found.
func uncertain(err error) bool {
	if !errors.Is(err, sqlite3.IOERR) || errors.Is(err, sqlite3.IOERR_WRITE) || errors.Is(err, sqlite3.IOERR_READ) {
		return false
	}
	return true
}

// connection is a connection with the statements that were prepared on it.
type connection struct {
	conn     *sql.Conn
	prepared map[string]*sql.Stmt
	// lasting makes statements run to their end even when the caller goes away.
	// SQLite takes the whole transaction back when a change is interrupted, and
	// with it what others wrote.
	lasting bool
}

func connect(ctx context.Context, db *sql.DB) (*connection, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	return &connection{conn: conn, prepared: map[string]*sql.Stmt{}}, nil
}

func (c *connection) close() {
	for _, s := range c.prepared {
		s.Close() //nolint:errcheck,gosec // the connection goes with it
	}
	c.conn.Close() //nolint:errcheck,gosec // what was written is committed; what was not is to be lost
}

// run runs a statement that begins or ends something.
func (c *connection) run(ctx context.Context, text string) error {
	_, err := c.conn.ExecContext(ctx, text)
	return err
}

// within reports whether a transaction is under way.
func (c *connection) within() bool {
	within := false
	err := c.conn.Raw(func(inner any) error {
		if d, is := inner.(driver.Conn); is {
			within = !d.Raw().GetAutocommit()
		}
		return nil
	})
	return err == nil && within
}

func (c *connection) prepare(ctx context.Context, text string) (*sql.Stmt, context.Context, error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	if c.lasting {
		ctx = context.WithoutCancel(ctx)
	}
	if s := c.prepared[text]; s != nil {
		return s, ctx, nil
	}
	s, err := c.conn.PrepareContext(ctx, text)
	if err != nil {
		return nil, nil, err
	}
	c.prepared[text] = s
	return s, ctx, nil
}

func (c *connection) query(ctx context.Context, text string, args []any) (*sql.Rows, error) {
	s, ctx, err := c.prepare(ctx, text) //nolint:sqlclosecheck // the statement is kept for the next time
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}

func (c *connection) exec(ctx context.Context, text string, args []any) (sql.Result, error) {
	s, ctx, err := c.prepare(ctx, text) //nolint:sqlclosecheck // the statement is kept for the next time
	if err != nil {
		return nil, err
	}
	return s.ExecContext(ctx, args...)
}

// view lends one of the connections that read. The first question of a
// transaction fixes the moment that all answers are of.
func (s *sqliteStore) view(ctx context.Context, read func(*transaction) error) error {
	c, err := s.take(ctx)
	if err != nil {
		return err
	}
	t := &transaction{session: c, dialect: sqliteDialect{}}
	defer func() {
		t.ended.Store(true)
		if c.within() && c.run(context.WithoutCancel(ctx), "ROLLBACK") != nil {
			c.close()
			c = nil
		}
		s.idle <- c
	}()
	if err := c.run(ctx, "BEGIN"); err != nil {
		return t.outcome(t.fail(ctx, err))
	}
	return t.outcome(read(t))
}

// take waits for a connection that reads.
func (s *sqliteStore) take(ctx context.Context) (*connection, error) {
	wait, cancel := context.WithTimeout(ctx, s.options.turn)
	defer cancel()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var c *connection
	select {
	case c = <-s.idle:
	case <-wait.Done():
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		return nil, fmt.Errorf("%w: nobody was done with reading for %s", store.ErrUnavailable, s.options.turn)
	}
	if c != nil {
		return c, nil
	}
	c, err := connect(ctx, s.readerDB)
	if err != nil {
		s.idle <- nil
		if ended := ctx.Err(); ended != nil {
			err = ended
		}
		return nil, explain(sqliteDialect{}, err)
	}
	return c, nil
}

// turn is an Update that waits for its turn, has it, or waits for the commit.
type turn struct {
	wait  context.Context // ends when it waits no longer for its turn
	state atomic.Int32    // waiting, then had or withdrawn
	give  chan *transaction
	ran   chan error // what became of the function
	done  chan error // what became of the commit
}

const (
	waiting int32 = iota
	had
	withdrawn
)

// errAbandoned stands for a function that neither returned nor will.
var errAbandoned = errors.New("the function of an Update did not return")

// update waits for its turn, runs write and waits until it is on disk.
func (s *sqliteStore) update(ctx context.Context, write func(*transaction) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	wait, cancel := context.WithTimeout(ctx, s.options.turn)
	defer cancel()
	t := &turn{wait: wait, give: make(chan *transaction, 1), ran: make(chan error, 1), done: make(chan error, 1)}
	select {
	case s.queue <- t:
	case <-wait.Done():
		return s.late(ctx)
	}
	var lent *transaction
	select {
	case lent = <-t.give:
	case err := <-t.done: // there was no turn
		return err
	case <-wait.Done():
		if t.state.CompareAndSwap(waiting, withdrawn) {
			return s.late(ctx)
		}
		select {
		case lent = <-t.give:
		case err := <-t.done:
			return err
		}
	}
	returned := false
	defer func() {
		if !returned { // a panic, or the end of the goroutine: it goes on once all is taken back
			t.ran <- errAbandoned
			<-t.done //nolint:errcheck // nobody is there to be told
		}
	}()
	err := write(lent)
	returned = true
	t.ran <- err
	return <-t.done
}

// late says why an Update had no turn.
func (s *sqliteStore) late(ctx context.Context) error {
	ended := ctx.Err()
	switch {
	case ended != nil && s.blocked.Load():
		return fmt.Errorf("%w: another process is writing: %w", store.ErrUnavailable, ended)
	case ended != nil:
		return ended
	}
	return fmt.Errorf("%w: there was no turn to write for %s", store.ErrUnavailable, s.options.turn)
}

// write is the goroutine that owns the connection that writes.
func (s *sqliteStore) write() {
	defer close(s.stopped)
	s.writer.lasting = true
	for {
		select {
		case first := <-s.queue:
			s.batch(first)
		case <-s.stop:
			return
		}
	}
}

// batch runs an Update and those that wait behind it in one transaction.
func (s *sqliteStore) batch(first *turn) {
	if err := s.begin(first); err != nil {
		first.end(err)
		return
	}
	enough := time.NewTimer(batchWork)
	defer enough.Stop()
	type answer struct {
		turn *turn
		err  error
	}
	var answers []answer
	kept := 0
	var failure error
	for next := first; next != nil && failure == nil; {
		if next.state.CompareAndSwap(waiting, had) {
			result, broken := s.lend(next)
			answers = append(answers, answer{next, result})
			failure = broken
			if result == nil {
				kept++
			}
		}
		next = nil
		if len(answers) == batchSize {
			break
		}
		select {
		case <-enough.C:
		default:
			select {
			case next = <-s.queue:
			default:
			}
		}
	}
	if failure == nil {
		failure = s.commit(kept)
	}
	if failure != nil {
		s.takeBack()
	}
	for _, a := range answers {
		if failure != nil {
			a.err = failure // what it saw of the others has not come to be
		}
		a.turn.end(a.err)
	}
}

// begin takes the lock that only one process can have, for as long as the
// Update waits for its turn.
func (s *sqliteStore) begin(first *turn) error {
	s.blocked.Store(true)
	for {
		err := s.writer.run(first.wait, "BEGIN IMMEDIATE")
		switch {
		case err == nil:
			s.blocked.Store(false)
			return nil
		case s.writer.within():
			s.takeBack() // interrupted when it had the lock already
			return explain(sqliteDialect{}, err)
		case first.wait.Err() != nil:
			return fmt.Errorf("%w: another process is writing: %w", store.ErrUnavailable, first.wait.Err())
		case !errors.Is(err, sqlite3.BUSY):
			return explain(sqliteDialect{}, err)
		}
		s.logger.Warn("the store is held by another process")
	}
}

// lend runs an Update in a savepoint. It returns what becomes of it, and what
// became of the transaction when that is broken.
func (s *sqliteStore) lend(next *turn) (result, broken error) {
	if err := s.writer.run(context.Background(), "SAVEPOINT lent"); err != nil {
		broken = explain(sqliteDialect{}, err)
		return broken, broken
	}
	t := &transaction{session: s.writer, dialect: sqliteDialect{}}
	next.give <- t
	result = t.outcome(<-next.ran)
	t.ended.Store(true)
	if !s.writer.within() { // SQLite took all of it back
		return result, explain(sqliteDialect{}, errors.Join(errTakenBack, t.failed))
	}
	ending := "RELEASE lent"
	if result != nil {
		ending = "ROLLBACK TO lent; RELEASE lent"
	}
	if err := s.writer.run(context.Background(), ending); err != nil {
		broken = explain(sqliteDialect{}, err)
	}
	return result, broken
}

// errTakenBack is the cause of the failure of all in a batch.
var errTakenBack = errors.New("the transaction that several Updates shared was taken back")

func (s *sqliteStore) commit(kept int) error {
	if err := s.writer.run(context.Background(), "COMMIT"); err != nil {
		if uncertain(err) {
			return fmt.Errorf("%w: %w", store.ErrUncertain, err)
		}
		return explain(sqliteDialect{}, err)
	}
	if kept > 0 {
		s.commits.Add(1)
		s.accepted.Add(int64(kept))
	}
	if s.options.loseAnswers {
		return errSilent
	}
	return nil
}

// errSilent is what is left of an answer that was lost on purpose.
var errSilent = fmt.Errorf("%w: fell silent after the commit", store.ErrUncertain)

func (s *sqliteStore) takeBack() {
	if !s.writer.within() {
		return
	}
	if err := s.writer.run(context.Background(), "ROLLBACK"); err != nil {
		s.logger.Error("take a transaction back", slog.Any("error", err))
	}
}

// end tells an Update what became of it.
func (t *turn) end(err error) { t.done <- err }

func (s *sqliteStore) close() error {
	close(s.stop)
	<-s.stopped
	return s.closeHandles()
}

// closeHandles closes the writer last, which empties the log into the file.
func (s *sqliteStore) closeHandles() error {
	for range len(s.idle) {
		if c := <-s.idle; c != nil {
			c.close()
		}
	}
	err := s.readerDB.Close()
	if s.writer != nil {
		s.writer.close()
	}
	return errors.Join(err, s.writerDB.Close())
}
