package openapi

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"go.yaml.in/yaml/v3"
)

//go:embed openapi.yaml examples
var files embed.FS

// Source returns the contract as one YAML document that needs no other file:
// openapi.yaml in its order and with its comments, each reference to a file of
// the folder examples replaced by what the file holds. The caller owns the
// bytes. It returns an error when a referenced file is missing or is not YAML
// or JSON, which a test of this package excludes for a built program.
func Source() ([]byte, error) {
	source, err := bundle()
	return bytes.Clone(source), err
}

// Document returns the contract, read and validated. No reference in it leads
// outside. Each call returns a new document, which the caller may change. It
// returns the errors of [Source], and an error for a contract that is against
// OpenAPI 3.0. That each example keeps its schema is for a test of this package:
// an answer that is being rewritten must not keep the service from starting.
func Document() (*openapi3.T, error) {
	source, err := bundle()
	if err != nil {
		return nil, err
	}
	loader := openapi3.NewLoader() // follows no external reference
	document, err := loader.LoadFromData(source)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	if err := document.Validate(context.Background(), openapi3.DisableExamplesValidation()); err != nil {
		return nil, fmt.Errorf("validate the contract: %w", err)
	}
	return document, nil
}

// bundle makes the text of [Source], once.
var bundle = sync.OnceValues(func() ([]byte, error) {
	root, err := readNode("openapi.yaml")
	if err != nil {
		return nil, err
	}
	if err := inline(root); err != nil {
		return nil, err
	}
	var text bytes.Buffer
	encoder := yaml.NewEncoder(&text)
	encoder.SetIndent(2)
	if err := encoder.Encode(root); err != nil {
		return nil, fmt.Errorf("write the contract: %w", err)
	}
	if err := encoder.Close(); err != nil {
		return nil, fmt.Errorf("write the contract: %w", err)
	}
	return text.Bytes(), nil
})

// readNode parses the embedded file of that name.
func readNode(name string) (*yaml.Node, error) {
	text, err := files.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	var document yaml.Node
	if err := yaml.Unmarshal(text, &document); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if document.Kind != yaml.DocumentNode || len(document.Content) != 1 {
		return nil, fmt.Errorf("read %s: not one YAML document", name)
	}
	return document.Content[0], nil
}

// inline replaces, in place and at any depth, each object whose only member is
// a $ref to a file by the content of that file.
func inline(node *yaml.Node) error {
	if node.Kind == yaml.MappingNode && len(node.Content) == 2 && node.Content[0].Value == "$ref" {
		name := node.Content[1].Value
		if strings.HasPrefix(name, "#") {
			return nil
		}
		content, err := readNode(strings.TrimPrefix(name, "./"))
		if err != nil {
			return err
		}
		spread(content)
		*node = *content
		return nil
	}
	for _, child := range node.Content {
		if err := inline(child); err != nil {
			return err
		}
	}
	return nil
}

// spread sets objects and arrays to be written over several lines, as those of
// a JSON file would otherwise stand on one.
func spread(node *yaml.Node) {
	node.Style &^= yaml.FlowStyle
	for _, child := range node.Content {
		spread(child)
	}
}
