//go:build cgo

package synth

/*
#cgo LDFLAGS: -ldl
#include <dlfcn.h>
#include <stddef.h>

static void say_nothing(const char *file, int line, const char *function, int err, const char *fmt, ...) {}

// hush_alsa stops ALSA's library, where there is one, from writing on the terminal.
static void hush_alsa(void) {
	typedef int (*set_handler)(void (*)(const char *, int, const char *, int, const char *, ...));
	void *lib = dlopen("libasound.so.2", RTLD_NOW);
	if (lib == NULL)
		return;
	set_handler set = (set_handler)dlsym(lib, "snd_lib_error_set_handler");
	if (set != NULL)
		set(say_nothing);
}
*/
import "C"

import "sync"

// quieten keeps the system's sound library from writing its own complaints to the
// terminal; what is wrong the speaker says itself. Found without ALSA's headers, so
// that the program builds where they are not.
var quieten = sync.OnceFunc(func() { C.hush_alsa() })
