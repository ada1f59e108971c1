package key
func Cells(w *DirectWork) (int,int) { return len(w.fish), len(w.n) }
