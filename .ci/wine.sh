# To be sourced: how the checks run the program for Windows.

# Where Wine is; fails without.
wine() { if [ -x /usr/lib/wine/wine64 ]; then echo /usr/lib/wine/wine64; else command -v wine64; fi; }

# Rust asks Windows 10's library of this name for random bytes; Wine before version 9 has none.
# For the checks alone, never given to anybody.
random_bytes() { # FOLDER
    cat >"$1/random.c" <<'C'
#include <windows.h>
BOOLEAN NTAPI SystemFunction036(PVOID bytes, ULONG length);
__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE bytes, SIZE_T length)
{
    return SystemFunction036(bytes, (ULONG)length);
}
C
    x86_64-w64-mingw32-gcc -shared -o "$1/bcryptprimitives.dll" "$1/random.c" -ladvapi32
}

# Ends what runs under Wine in this prefix, and nothing else; without any there is nothing to end.
wine_end() { # WINE
    "${1%/*}/wineserver64" -k 2>/dev/null || true
}
