package engine

func smithFacts() []Fact { return nil }
