package stand

import (
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"

	"rsc.io/qr"
)

// newToken draws the 128 bits that stand in the page's address: who does not know them
// sees nothing.
func newToken() string {
	var bits [16]byte
	rand.Read(bits[:])
	return base64.RawURLEncoding.EncodeToString(bits[:])
}

// Listen opens where the stand is served. Address is HOST:PORT, port 0 for any that is
// free; "" is this machine alone, or, where lan asks for it, its address in the local
// network. An address that other machines reach is refused unless lan asks for it.
func Listen(address string, lan bool) (net.Listener, error) {
	if address == "" {
		address = "127.0.0.1:0"
		if lan {
			own, err := ownAddress(net.InterfaceAddrs)
			if err != nil {
				return nil, err
			}
			address = net.JoinHostPort(own.String(), "0")
		}
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("listen address %q: write HOST:PORT, such as 127.0.0.1:8080", address)
	}
	if !lan && !isLoopback(host) {
		return nil, fmt.Errorf("listen address %q: other machines could reach it: ask for the local network, or write 127.0.0.1:PORT", address)
	}
	return net.Listen("tcp", address)
}

func isLoopback(host string) bool {
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// sharedAt reports whether other machines reach a listener at this address.
func sharedAt(at net.Addr) bool {
	host, _, err := net.SplitHostPort(at.String())
	return err != nil || !isLoopback(host)
}

// errNoNetwork says that there is no local network.
var errNoNetwork = errors.New("this machine has no address in a local network: is it connected?")

// ownAddress is this machine's address in the local network, IPv4 before IPv6.
func ownAddress(addresses func() ([]net.Addr, error)) (netip.Addr, error) {
	all, err := addresses()
	if err != nil {
		return netip.Addr{}, err
	}
	var six netip.Addr
	for _, a := range all {
		prefix, err := netip.ParsePrefix(a.String())
		if err != nil || !prefix.Addr().IsPrivate() {
			continue
		}
		if prefix.Addr().Is4() {
			return prefix.Addr(), nil
		}
		six = prefix.Addr()
	}
	if !six.IsValid() {
		return six, errNoNetwork
	}
	return six, nil
}

// hostsOf lists the hosts, each with its port, by which the listener may be asked for. It
// has numbers and "localhost" only: a name that somebody else points at this machine, as
// in DNS rebinding, is not among them.
func hostsOf(at net.Addr, addresses func() ([]net.Addr, error)) []string {
	host, port, err := net.SplitHostPort(at.String())
	if err != nil {
		return nil
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return nil
	}
	names := []string{ip.WithZone("").String()}
	if ip.IsUnspecified() { // every address of this machine
		names = []string{"127.0.0.1", "::1"}
		if all, err := addresses(); err == nil {
			for _, a := range all {
				if prefix, err := netip.ParsePrefix(a.String()); err == nil {
					names = append(names, prefix.Addr().WithZone("").String())
				}
			}
		}
	}
	if ip.IsLoopback() || ip.IsUnspecified() {
		names = append(names, "localhost")
	}
	var hosts []string
	for _, name := range names {
		hosts = append(hosts, net.JoinHostPort(name, port))
		if port == "80" {
			hosts = append(hosts, strings.TrimSuffix(net.JoinHostPort(name, port), ":80"))
		}
	}
	return hosts
}

// QR draws an address in half blocks, two modules to a character, to be shown light on
// dark. It has the margin that readers need.
func QR(address string) (string, error) {
	code, err := qr.Encode(address, qr.M)
	if err != nil {
		return "", fmt.Errorf("address %.40q as a QR code: %w", address, err)
	}
	const margin = 4 // modules (ISO/IEC 18004, from memory)
	var b strings.Builder
	light := func(x, y int) bool { return !code.Black(x, y) }
	for y := -margin; y < code.Size+margin; y += 2 {
		for x := -margin; x < code.Size+margin; x++ {
			switch upper, lower := light(x, y), y+1 < code.Size+margin && light(x, y+1); {
			case upper && lower:
				b.WriteRune('█')
			case upper:
				b.WriteRune('▀')
			case lower:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteByte('\n')
	}
	return b.String(), nil
}
