package material

// CuringSalt reports whether it is an undiluted nitrite or nitrate. A formula
// doses those as cures, so that they are counted as what they are.
func (m Material) CuringSalt() bool {
	switch m.Key {
	case "sodium-nitrite", "potassium-nitrite", "sodium-nitrate", "potassium-nitrate":
		return true
	default:
		return false
	}
}
