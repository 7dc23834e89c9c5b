package main

import (
	"context"
	"errors"
	"fmt"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/warmup"
)

// An askedError is something that the player asked and that cannot be done as asked.
type askedError struct {
	cause error
	mend  string // what to do, "" where the cause says it
}

func (e *askedError) Error() string {
	if e.mend == "" {
		return e.cause.Error()
	}
	return fmt.Sprintf("%v\n%s", e.cause, e.mend)
}

func (e *askedError) Unwrap() error { return e.cause }

// asked marks an error as the player's to mend. A nil error stays nil.
func asked(err error, mend string) error {
	if err == nil {
		return nil
	}
	return &askedError{err, mend}
}

// askedf is asked with an error of its own.
func askedf(format string, args ...any) error { return asked(fmt.Errorf(format, args...), "") }

// A publicError may be said on a page that others see: see session.State.Public.
type publicError struct {
	error
	words string
}

// Public is what may be said.
func (e publicError) Public() string { return e.words }

func (e publicError) Unwrap() error { return e.error }

// public lets others see the errors that speak of what was asked for and of nothing that lies
// in the player's files.
func public(err error) error {
	var read *compose.RequestError
	var warm *warmup.RequestError
	switch {
	case errors.As(err, &read):
		return publicError{err, read.Error()}
	case errors.As(err, &warm):
		return publicError{err, warm.Error()}
	}
	return err
}

// An exitError ends the program with its code; all has been said.
type exitError int

func (e exitError) Error() string { return fmt.Sprintf("exit code %d", int(e)) }

// exitCode reports the exit code that an error asks for.
func exitCode(err error) int {
	var player *askedError
	var request *compose.RequestError
	var refusal *journal.Refusal
	var name *journal.NameError
	var sealed *journal.SealedError
	switch {
	case err == nil:
		return exitFine
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &player), errors.As(err, &request), errors.As(err, &refusal), errors.As(err, &name), errors.As(err, &sealed):
		return exitRequest
	}
	return exitFault
}
