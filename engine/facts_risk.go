package engine

func riskFacts() []Fact { return nil }
