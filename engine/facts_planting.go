package engine

func plantingFacts() []Fact { return nil }
