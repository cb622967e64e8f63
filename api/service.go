package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"regexp"
	"runtime"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3conv"
	"github.com/labstack/echo/v4"
	"github.com/swaggest/swgui"
	"github.com/swaggest/swgui/v5/static"
	"github.com/swaggest/swgui/v5emb"

	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

const (
	docsPath     = "/docs"
	docsAssets   = docsPath + "/*"
	problemsPath = "/problems"

	mediaTypeHTML         = "text/html"
	mediaTypeContractJSON = "application/vnd.oai.openapi+json"
	mediaTypeYAML         = "application/vnd.oai.openapi"

	// version31 is the version that the upgraded copy of the contract names.
	version31 = "3.1.1"

	// cacheDocument lets a browser keep a document but ask each time whether it
	// still holds; cacheAsset lets it keep a file for a day.
	cacheDocument = "no-cache"
	cacheAsset    = "public, max-age=86400"
)

//go:embed pages
var pageFiles embed.FS

// document is a text that is made once, at start. It is an answer of every
// operation of the Service tag that gives a text.
type document struct {
	text      []byte
	mediaType string
	etag      string
	policy    string // Content-Security-Policy, for pages
}

// documents are all of them.
type documents struct {
	contractJSON, contract31JSON, contractYAML *document
	docs, problems                             *document
	problem                                    map[string]*document // by slug
	assets                                     http.Handler
}

// newDocument names a text by its digest. The tag is weak, because the text is
// also sent compressed (RFC 9110, section 8.8.3).
func newDocument(mediaType string, text []byte, policy string) *document {
	digest := sha256.Sum256(text)
	return &document{
		text: text, mediaType: mediaType, policy: policy,
		etag: `W/"` + base64.RawURLEncoding.EncodeToString(digest[:16]) + `"`,
	}
}

// write answers with the document.
func (d *document) write(w http.ResponseWriter) error {
	d.writeHeader(w)
	header := w.Header()
	header.Set(echo.HeaderContentType, d.mediaType)
	if d.mediaType == mediaTypeHTML {
		header.Set(echo.HeaderContentType, mediaTypeHTML+"; charset=utf-8")
		header.Set(echo.HeaderContentSecurityPolicy, d.policy)
		header.Set(echo.HeaderReferrerPolicy, "no-referrer")
	}
	header.Set(echo.HeaderXContentTypeOptions, "nosniff")
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(d.text)
	return err
}

func (d *document) writeHeader(w http.ResponseWriter) {
	w.Header().Set("ETag", d.etag)
	w.Header().Set(echo.HeaderCacheControl, cacheDocument)
}

// holds tells whether the client has this document already (RFC 9110, section
// 13.1.2).
func (d *document) holds(ifNoneMatch *string) bool {
	if ifNoneMatch == nil {
		return false
	}
	for tag := range strings.SplitSeq(*ifNoneMatch, ",") {
		tag = strings.TrimSpace(tag)
		if tag == "*" || strings.TrimPrefix(tag, "W/") == strings.TrimPrefix(d.etag, "W/") {
			return true
		}
	}
	return false
}

// answer is a document, or the word that the client's copy still holds.
type answer struct {
	*document
	held bool
}

func (d *document) answer(ifNoneMatch *string) answer { return answer{d, d.holds(ifNoneMatch)} }

func (a answer) visit(w http.ResponseWriter) error {
	if a.held {
		a.writeHeader(w)
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	return a.write(w)
}

// VisitGetContractJSONResponse makes answer an answer of getContractJSON; so do
// those below for their operations.
func (a answer) VisitGetContractJSONResponse(w http.ResponseWriter) error { return a.visit(w) }

// VisitGetContract31JSONResponse is for getContract31JSON.
func (a answer) VisitGetContract31JSONResponse(w http.ResponseWriter) error { return a.visit(w) }

// VisitGetContractYAMLResponse is for getContractYAML.
func (a answer) VisitGetContractYAMLResponse(w http.ResponseWriter) error { return a.visit(w) }

// VisitGetDocsResponse is for getDocs.
func (a answer) VisitGetDocsResponse(w http.ResponseWriter) error { return a.visit(w) }

// VisitListProblemTypesResponse is for listProblemTypes.
func (a answer) VisitListProblemTypesResponse(w http.ResponseWriter) error { return a.visit(w) }

// VisitGetProblemTypeResponse is for getProblemType.
func (a answer) VisitGetProblemTypeResponse(w http.ResponseWriter) error { return a.visit(w) }

// GetLiveness answers whenever the process can answer.
func (h *handlers) GetLiveness(context.Context, openapi.GetLivenessRequestObject) (openapi.GetLivenessResponseObject, error) {
	return openapi.GetLiveness200JSONResponse{Status: openapi.HealthStatusLive}, nil
}

// GetReadiness refuses while the service is starting or shutting down, and
// while it can't use its store.
func (h *handlers) GetReadiness(ctx context.Context, _ openapi.GetReadinessRequestObject) (openapi.GetReadinessResponseObject, error) {
	if err := h.ready(ctx); err != nil {
		return nil, &refusal{slug: slugUnavailable, detail: err.Error()}
	}
	return openapi.GetReadiness200JSONResponse{Status: openapi.HealthStatusReady}, nil
}

// GetVersion tells the versions.
func (h *handlers) GetVersion(context.Context, openapi.GetVersionRequestObject) (openapi.GetVersionResponseObject, error) {
	return openapi.GetVersion200JSONResponse(h.version), nil
}

// GetContractJSON gives the contract.
func (h *handlers) GetContractJSON(_ context.Context, req openapi.GetContractJSONRequestObject) (openapi.GetContractJSONResponseObject, error) {
	return h.documents.contractJSON.answer(req.Params.IfNoneMatch), nil
}

// GetContract31JSON gives the upgraded copy of the contract.
func (h *handlers) GetContract31JSON(_ context.Context, req openapi.GetContract31JSONRequestObject) (openapi.GetContract31JSONResponseObject, error) {
	return h.documents.contract31JSON.answer(req.Params.IfNoneMatch), nil
}

// GetContractYAML gives the contract as it is written.
func (h *handlers) GetContractYAML(_ context.Context, req openapi.GetContractYAMLRequestObject) (openapi.GetContractYAMLResponseObject, error) {
	return h.documents.contractYAML.answer(req.Params.IfNoneMatch), nil
}

// GetDocs gives the page of the documentation.
func (h *handlers) GetDocs(_ context.Context, req openapi.GetDocsRequestObject) (openapi.GetDocsResponseObject, error) {
	return h.documents.docs.answer(req.Params.IfNoneMatch), nil
}

// ListProblemTypes gives the list of the problem types.
func (h *handlers) ListProblemTypes(_ context.Context, req openapi.ListProblemTypesRequestObject) (openapi.ListProblemTypesResponseObject, error) {
	return h.documents.problems.answer(req.Params.IfNoneMatch), nil
}

// GetProblemType gives the page of a problem type.
func (h *handlers) GetProblemType(_ context.Context, req openapi.GetProblemTypeRequestObject) (openapi.GetProblemTypeResponseObject, error) {
	page, ok := h.documents.problem[req.Slug]
	if !ok {
		return nil, &refusal{slug: slugNotFound, detail: "there is no such problem type; they are listed at " + problemsPath}
	}
	return page.answer(req.Params.IfNoneMatch), nil
}

// getDocsAsset gives a file of the documentation page.
func (s *server) getDocsAsset(c echo.Context) error {
	name := c.Param("*")
	if name == "" {
		return c.Redirect(http.StatusPermanentRedirect, docsPath)
	}
	_, err := fs.Stat(static.FS, name)
	if err != nil {
		_, err = fs.Stat(static.FS, name+".gz")
	}
	if err != nil {
		return echo.ErrNotFound
	}
	c.Response().Header().Set(echo.HeaderCacheControl, cacheAsset)
	c.Response().Header().Set(echo.HeaderXContentTypeOptions, "nosniff")
	s.handlers.documents.assets.ServeHTTP(c.Response(), c.Request())
	return nil
}

// makeDocuments makes every text from the contract.
func makeDocuments(contract *openapi3.T) (documents, error) {
	d := documents{problem: make(map[string]*document, len(catalogue))}
	source, err := openapi.Source()
	if err != nil {
		return documents{}, err
	}
	d.contractYAML = newDocument(mediaTypeYAML, source, "")
	if d.contractJSON, err = jsonDocument(contract); err != nil {
		return documents{}, err
	}
	upgraded, err := openapi.Document()
	if err != nil {
		return documents{}, err
	}
	openapi3conv.Upgrade(upgraded)
	upgraded.OpenAPI = version31
	if d.contract31JSON, err = jsonDocument(upgraded); err != nil {
		return documents{}, err
	}
	if err := d.makeProblemPages(); err != nil {
		return documents{}, err
	}
	return d, d.makeDocsPage(contract.Info.Title)
}

func jsonDocument(contract *openapi3.T) (*document, error) {
	text, err := contract.MarshalJSON()
	if err != nil {
		return nil, fmt.Errorf("write the contract as JSON: %w", err)
	}
	return newDocument(mediaTypeContractJSON, append(text, '\n'), ""), nil
}

func (d *documents) makeProblemPages() error {
	pages, err := template.ParseFS(pageFiles, "pages/*.html")
	if err != nil {
		return fmt.Errorf("read the pages: %w", err)
	}
	style, err := pageFiles.ReadFile("pages/page.css")
	if err != nil {
		return fmt.Errorf("read the pages: %w", err)
	}
	policy := "default-src 'none'; style-src " + policyHash(style) + "; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	render := func(name, title string, content any) (*document, error) {
		var text bytes.Buffer
		err := pages.ExecuteTemplate(&text, name, map[string]any{
			"Style":    template.CSS(style), //nolint:gosec // G203: the style is a file of this package
			"Title":    title,
			"Docs":     docsPath,
			"Problems": problemsPath,
			"Content":  content,
		})
		if err != nil {
			return nil, fmt.Errorf("write the page %s: %w", title, err)
		}
		return newDocument(mediaTypeHTML, text.Bytes(), policy), nil
	}
	if d.problems, err = render("problems.html", "Problem types", catalogue); err != nil {
		return err
	}
	for _, t := range catalogue {
		if d.problem[string(t.Slug)], err = render("problem.html", t.Title, t); err != nil {
			return err
		}
	}
	return nil
}

var (
	// inlineScript finds the scripts that stand in a page.
	inlineScript = regexp.MustCompile(`(?s)<script>(.*?)</script>`)
	docsTitle    = regexp.MustCompile(`<title>.*</title>`)
)

// makeDocsPage writes the page once, so that its policy can name each script in
// it by digest and forbid all others.
func (d *documents) makeDocsPage(title string) error {
	docs := v5emb.NewWithConfig(swgui.Config{
		AppendHead: `<meta name="viewport" content="width=device-width, initial-scale=1">` + "\n" +
			`<meta name="description" content="Read and try the contract of this service">`,
		SettingsUI: map[string]string{"displayRequestDuration": "true", "docExpansion": `"list"`},
	})(title, "/openapi.yaml", docsPath) // the YAML keeps the order in which the contract is written
	var page pageWriter
	docs.ServeHTTP(&page, &http.Request{Method: http.MethodGet, URL: &url.URL{Path: docsPath}})
	text := bytes.TrimLeft(page.text.Bytes(), "\n")
	text = docsTitle.ReplaceAll(text, []byte("<title>"+template.HTMLEscapeString(title)+": documentation</title>"))
	scripts := inlineScript.FindAllSubmatch(text, -1)
	if len(scripts) == 0 {
		return errors.New("write the docs page: it has no script")
	}
	sources := []string{"script-src 'self'"}
	for _, script := range scripts {
		sources = append(sources, policyHash(script[1]))
	}
	policy := "default-src 'none'; connect-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; " +
		strings.Join(sources, " ") + "; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	d.docs = newDocument(mediaTypeHTML, text, policy)
	d.assets = docs
	return nil
}

// policyHash returns the source expression for a script or a style of this text
// (Content Security Policy Level 3, section 2.3.1).
func policyHash(text []byte) string {
	digest := sha256.Sum256(text)
	return "'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'"
}

// pageWriter keeps what a handler writes.
type pageWriter struct {
	header http.Header
	text   bytes.Buffer
}

// Header implements [http.ResponseWriter].
func (w *pageWriter) Header() http.Header {
	if w.header == nil {
		w.header = make(http.Header)
	}
	return w.header
}

// Write implements [http.ResponseWriter].
func (w *pageWriter) Write(text []byte) (int, error) { return w.text.Write(text) }

// WriteHeader implements [http.ResponseWriter]; the page has one status.
func (w *pageWriter) WriteHeader(int) {}

func versions(program, contract string) openapi.Version {
	return openapi.Version{Program: program, Contract: contract, Rulebook: rulebook.Version(), Go: new(runtime.Version())}
}
