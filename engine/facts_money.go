package engine

func moneyFacts() []Fact { return nil }
