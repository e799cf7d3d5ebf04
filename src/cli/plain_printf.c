/* printf as the C library has it.
 *
 * OpenBLAS brings the Fortran library and that libquadmath, which at its start teaches printf to
 * write numbers of 128 bits. From then on the C library takes every printf of the process through
 * its slow way for formats with positions: twice the time in papers, whose drawing library prints
 * each coordinate. Nothing here prints such numbers. libquadmath first asks for a type of its own
 * and leaves printf alone where it gets none, which its own functions do not need.
 */
#include <stdio.h> /* says whose C library it is */

#ifdef __GLIBC__
#include <printf.h>

int register_printf_type(printf_va_arg_function *function)
{
    (void)function;
    return -1;
}
#endif
