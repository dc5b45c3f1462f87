package terms
import "testing"
func TestZZStop(t *testing.T) {
	for _,tag := range []string{"en","de","fr"} { for _,x := range []string{"-stop","-stop-apart","-stop2","-stop2-apart"} {
		r,a := rates(t,tag,tag+x); t.Log("RATE",tag+x,"stop",r["stop"],a["stop"],"class",r["dangers"],"none right",r["none"],a["none"])
	}}
}
