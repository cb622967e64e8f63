package openapi_test

import (
	"io/fs"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v3"

	"greenweight/openapi"
)

// outside finds references that need another file, in YAML and in JSON.
var outside = regexp.MustCompile(`"?\$ref"?:\s*['"]?[^'"#\s]`)

func TestDocument(t *testing.T) {
	t.Parallel()

	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	// 3.1 documents make the validator of the tests compile each schema per request.
	if diff := cmp.Diff("3.0.3", document.OpenAPI); diff != "" {
		t.Errorf("version of OpenAPI (-want +got):\n%s", diff)
	}
	text, err := document.MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	if found := outside.Find(text); found != nil {
		t.Errorf("the document as JSON leads outside: %s", found)
	}

	document.Info.Title = "changed"
	again, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	if again.Info.Title == "changed" {
		t.Error("a change of one document is seen in the next")
	}
}

// Each example keeps its schema, those of answers too.
func TestExamplesKeepTheirSchemas(t *testing.T) {
	t.Parallel()

	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	if err := document.Validate(t.Context()); err != nil {
		t.Error(err)
	}
}

// The bundled text must say what the files say, each reference to a file being
// its content.
func TestSource(t *testing.T) {
	t.Parallel()

	source, err := openapi.Source()
	if err != nil {
		t.Fatal(err)
	}
	if found := outside.Find(source); found != nil {
		t.Errorf("the source leads outside: %s", found)
	}
	var got any
	if err := yaml.Unmarshal(source, &got); err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	want := resolve(t, readYAML(t, "openapi.yaml"), used)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("bundled contract (-want +got):\n%s", diff)
	}

	var kept []string
	err = fs.WalkDir(os.DirFS("."), "examples", func(name string, entry fs.DirEntry, err error) error {
		if err == nil && !entry.IsDir() {
			kept = append(kept, name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(kept) == 0 {
		t.Error("there is no example")
	}
	if diff := cmp.Diff(kept, slices.Sorted(maps.Keys(used))); diff != "" {
		t.Errorf("example files, and those the contract refers to (-want +got):\n%s", diff)
	}
}

func readYAML(t *testing.T, name string) any {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var value any
	if err := yaml.Unmarshal(text, &value); err != nil {
		t.Fatalf("read %s: %v", name, err)
	}
	return value
}

// resolve is the plain way to do what Source does on nodes; it notes the files.
func resolve(t *testing.T, value any, used map[string]bool) any {
	t.Helper()
	switch value := value.(type) {
	case map[string]any:
		if name, ok := value["$ref"].(string); ok && !strings.HasPrefix(name, "#") {
			used[path.Clean(name)] = true
			return readYAML(t, name)
		}
		for name, member := range value {
			value[name] = resolve(t, member, used)
		}
	case []any:
		for i, member := range value {
			value[i] = resolve(t, member, used)
		}
	}
	return value
}

// What every operation and schema of the contract has, so that the docs can be
// read, the generated names are whole and no number loses digits.
func TestContractIsComplete(t *testing.T) {
	t.Parallel()

	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	for route, item := range document.Paths.Map() {
		for method, operation := range item.Operations() {
			name := method + " " + route
			if operation.OperationID == "" || operation.Summary == "" {
				t.Errorf("%s lacks operationId or summary", name)
			}
			if len(operation.Tags) != 1 {
				t.Errorf("%s has %d tags, not one", name, len(operation.Tags))
			}
			if operation.Responses.Default() == nil {
				t.Errorf("%s has no default answer", name)
			}
			if !hasExample(operation) {
				t.Errorf("%s has no example", name)
			}
			for _, parameter := range operation.Parameters {
				checkSchema(t, name+" parameter "+parameter.Value.Name, parameter.Value.Schema)
				if parameter.Value.Description == "" {
					t.Errorf("%s parameter %s has no description", name, parameter.Value.Name)
				}
			}
		}
	}
	for name, schema := range document.Components.Schemas {
		checkSchema(t, name, schema)
	}
}

// hasExample says whether the request or an answer that is no problem has an
// example. An operation that speaks no JSON (a page, the contract itself)
// needs none.
func hasExample(operation *openapi3.Operation) bool {
	contents := []openapi3.Content{}
	if operation.RequestBody != nil {
		contents = append(contents, operation.RequestBody.Value.Content)
	}
	for status, response := range operation.Responses.Map() {
		if strings.HasPrefix(status, "2") {
			contents = append(contents, response.Value.Content)
		}
	}
	needed := false
	for _, content := range contents {
		media := content["application/json"]
		if media == nil {
			continue
		}
		if media.Example != nil || len(media.Examples) > 0 {
			return true
		}
		needed = true
	}
	return !needed
}

// checkSchema reports what a schema and those written inside it lack. A
// referenced schema is checked where it is defined.
func checkSchema(t *testing.T, name string, ref *openapi3.SchemaRef) {
	t.Helper()
	if ref == nil || ref.Ref != "" {
		return
	}
	schema := ref.Value
	if schema.Type.Is(openapi3.TypeNumber) && schema.Format != "double" {
		t.Errorf("%s is a number without format double", name)
	}
	unchecked := schema.Extensions["x-unchecked"] == true // whatever is sent is looked at one by one
	if schema.Type.Is(openapi3.TypeObject) && !unchecked && (schema.AdditionalProperties.Has == nil || *schema.AdditionalProperties.Has) {
		t.Errorf("%s is an object open to additional members", name)
	}
	if schema.Type.Is(openapi3.TypeArray) && schema.MaxItems == nil {
		t.Errorf("%s is an array without maxItems", name)
	}
	checkSchema(t, name+"[]", schema.Items)
	for member, inner := range schema.Properties {
		where := name + "." + member
		checkSchema(t, where, inner)
		if inner.Ref != "" {
			continue
		}
		if inner.Value.Description == "" {
			t.Errorf("%s has no description", where)
		}
		if inner.Value.Type.Is(openapi3.TypeObject) {
			t.Errorf("%s is an object written in place, without a name of its own", where)
		}
	}
}
