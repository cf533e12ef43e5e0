package simulate
import ("testing";"fmt";"time";"rowbell/engine")
func TestZZ(t *testing.T){
	for _, n := range []Nature{Usual(),Honest(),Sloppy(),Lying()} { for _,m:=range []bool{false,true} {
		t0:=time.Now()
		r,_:=Run(Options{Plots:400,Nature:n,Measured:m,Weather:engine.Weather{Daily:Year(Cool,2027)}})
		fmt.Printf("ZZ %+v\n",r.With); t.Log(time.Since(t0))
	}}
}
