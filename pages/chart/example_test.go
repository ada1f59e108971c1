package chart_test

import (
	"fmt"

	"earstone/pages/chart"
)

// Three quarters of the catch was sampled, a quarter has no age.
func ExampleBasis() {
	fmt.Print(chart.Basis{
		Frame: chart.Frame{Title: "What it rests on", Alt: "Three quarters of the catch was sampled."},
		Parts: []chart.Part{{Name: "sampled", Share: 300, Look: chart.Sampled}, {Name: "left unaged", Share: 100, Look: chart.NotAged}},
	}.Draw())
	// Output:
	// <svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" width="520" height="78" viewBox="0 0 520 78">
	// <title>What it rests on</title>
	// <desc>Three quarters of the catch was sampled.</desc>
	// <g class="marks" data-area="4 4 516 40">
	// <g><title>sampled: 75 %</title><rect class="fill-1" x="4" y="4" width="384" height="36"/></g>
	// <g><title>left unaged: 25 %</title><rect class="open line-1 fine" x="388" y="4" width="128" height="36"/></g>
	// </g>
	// <line class="leader" x1="196" y1="42" x2="196" y2="60"/><line class="leader" x1="452" y1="42" x2="452" y2="60"/><text class="small halo" x="202" y="60">75 % sampled</text>
	// <text class="small end halo" x="446" y="60">25 % left unaged</text>
	// </svg>
}
