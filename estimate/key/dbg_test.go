package key_test
import "testing"
import "earstone/estimate/key"
func TestCells(t *testing.T){ s,_:=season(1); w,_:=key.NewDirect(s,key.Borrowing{}); t.Log(key.Cells(w)) }
