//go:build !linux

package port

// rawDevices reports none: only Linux has a fixed place for them.
func rawDevices() []Info { return nil }
