package main

import (
	"fmt"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/styles"
	"onward/theory"

	"github.com/spf13/cobra"
)

// completeRequest tells the shell what values the flags of a request take.
func completeRequest(cmd *cobra.Command) {
	type values = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective)
	fixed := func(list func() []string) values {
		return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return list(), cobra.ShellCompDirectiveNoFileComp
		}
	}
	for flag, f := range map[string]values{
		"style": func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return styleNames(), cobra.ShellCompDirectiveDefault // or a file
		},
		"instrument": fixed(instrumentIDs),
		"rung":       fixed(rungNumbers),
		"form":       fixed(formNames),
		"meter":      fixed(meterNames),
		"click":      fixed(func() []string { return clickNames }),
		"company":    fixed(func() []string { return companyNames }),
	} {
		if err := cmd.RegisterFlagCompletionFunc(flag, f); err != nil {
			panic(err) // only a flag that is not there fails
		}
	}
}

func styleNames() []string {
	var list []string
	for _, s := range shippedStyles() {
		list = append(list, s.Name+"\t"+s.Words)
	}
	return list
}

func instrumentIDs() []string {
	var list []string
	for _, in := range theory.Instruments() {
		list = append(list, in.ID+"\t"+in.Name)
	}
	return list
}

func rungNumbers() []string {
	l, err := ladder.Default(figure.Default())
	if err != nil {
		return nil
	}
	var list []string
	for _, r := range l.Rungs {
		list = append(list, fmt.Sprintf("%d\t%s", r.Number, r.Name))
	}
	return list
}

func formNames() []string {
	var list []string
	had := map[string]bool{}
	for _, s := range shippedStyles() {
		for _, f := range s.Forms {
			if !had[f.Name] {
				had[f.Name] = true
				list = append(list, f.Name+"\t"+f.Words)
			}
		}
	}
	return list
}

func meterNames() []string {
	var list []string
	had := map[string]bool{}
	for _, s := range shippedStyles() {
		for _, m := range s.Meters {
			if !had[m.Name] {
				had[m.Name] = true
				list = append(list, m.Name)
			}
		}
	}
	return list
}

// shippedStyles reads all sheets that the program carries.
func shippedStyles() []*styles.Sheet {
	var list []*styles.Sheet
	for _, name := range styles.Names() {
		if s, err := styles.Shipped(name); err == nil {
			list = append(list, s)
		}
	}
	return list
}

// completeSurvey is the same for a part that is looked over.
func completeSurvey(cmd *cobra.Command) {
	for flag, list := range map[string]func() []string{"instrument": instrumentIDs, "rung": rungNumbers} {
		err := cmd.RegisterFlagCompletionFunc(flag, func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return list(), cobra.ShellCompDirectiveNoFileComp
		})
		if err != nil {
			panic(err) // only a flag that is not there fails
		}
	}
}
